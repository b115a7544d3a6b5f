package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"

	"github.com/urfave/cli/v2"
	"golang.org/x/term"

	"calsplice/cmd/calsplice/text"
	"calsplice/cmd/calsplice/transfertext"
	"calsplice/merge/changefile"
	"calsplice/merge/transfer"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

func transferCommand() *cli.Command {
	return &cli.Command{
		Name:      "transfer",
		Usage:     "injector data from a donor, in the recipient's terms",
		ArgsUsage: "DONOR RECIPIENT",
		Description: "Finds the injector's tables by role on both sides and brings the donor's into the\n" +
			"recipient: its axes, units, differential pressure and resolution. Nothing else changes.\n\n" +
			"Examples:\n" +
			"  calsplice transfer donor.json van.json -o injectors.json\n" +
			"  calsplice transfer donor.json van.json --rated-density 0.684 --apply -o van-new.json",
		Flags: []cli.Flag{
			outFlag("`FILE` for the change set, or with --apply the changed calibration"),
			&cli.BoolFlag{Name: "apply", Usage: "write the changed calibration"},
			&cli.StringFlag{Name: "group", Value: "injector", Usage: "the `GROUP` of tables that moves"},
			&cli.BoolFlag{Name: "partial", Usage: "move what both sides have, and leave the rest"},
			&cli.Float64Flag{Name: "rated-density", Usage: "`KG/L` of the fluid that the donor's flow was measured with, where it is not the donor's fuel"},
			&cli.Float64Flag{Name: "donor-density", Usage: "`KG/L` of the donor's fuel"},
			&cli.Float64Flag{Name: "density", Usage: "`KG/L` of the recipient's fuel"},
			&cli.Float64Flag{Name: "barometer", Usage: "`KPA` (101.325 unless told)"},
			&cli.Float64Flag{Name: "pressure", Usage: "differential pressure in `KPA` of recipient tables without a pressure axis"},
			&cli.Float64Flag{Name: "voltage", Usage: "battery voltage in `V` of recipient tables without a voltage axis"},
			&cli.Float64Flag{Name: "idle-fuel", Usage: "`MG` of fuel an injection at idle, for the report"},
			&cli.Float64Flag{Name: "air-mass", Usage: "highest demand: `MG` of air a cylinder and cycle"},
			&cli.Float64Flag{Name: "speed", Usage: "highest demand: engine speed in `R/MIN`"},
			&cli.Float64Flag{Name: "lambda", Usage: "highest demand: lambda `L` (0.85 unless told)"},
			&cli.Float64Flag{Name: "bsfc", Usage: "fuel for a kWh in `GRAMS` (304 unless told)"},
			&cli.Float64Flag{Name: "duty-limit", Usage: "highest duty in `%` (85 unless told)"},
			jsonFlag(), colorFlag(),
		},
		Action: runTransfer,
	}
}

func runTransfer(c *cli.Context) error {
	if err := wantArgs(c, 2, 2); err != nil {
		return err
	}
	opt, err := transferOptions(c)
	if err != nil {
		return err
	}
	docs, err := readAll(c, opt.DonorName, opt.RecipientName)
	if err != nil {
		return err
	}
	r, err := transfer.Run(docs[0], docs[1], opt)
	if err != nil {
		return err
	}
	if c.Bool("apply") {
		err = tablefile.Write(c.String("o"), r.Changed, tablefile.Options{Stdout: c.App.Writer})
	} else {
		err = changefile.Write(c.String("o"), r.Changes, c.App.Writer)
	}
	if err != nil {
		return err
	}
	return tellTransfer(c, r)
}

// tellTransfer prints the report, which holds the cautions; they go to standard
// error too where the report does not reach the same eyes.
func tellTransfer(c *cli.Context, r *transfer.Result) error {
	to := c.App.Writer
	if c.String("o") == "-" {
		to = c.App.ErrWriter
	}
	if f, ok := to.(*os.File); c.Bool("json") || !ok || !term.IsTerminal(int(f.Fd())) && to != c.App.ErrWriter {
		for _, line := range r.Cautions {
			fmt.Fprintln(c.App.ErrWriter, tables.Clean(line))
		}
	}
	if c.Bool("json") {
		e := json.NewEncoder(to)
		e.SetIndent("", "  ")
		e.SetEscapeHTML(false)
		return e.Encode(r)
	}
	p, err := text.NewPrinter(to, c.String("color"))
	if err != nil {
		return err
	}
	transfertext.Write(p, r)
	return nil
}

func transferOptions(c *cli.Context) (transfer.Options, error) {
	var opt transfer.Options
	switch {
	case c.String("o") == "":
		return opt, errors.New("transfer wants -o FILE")
	case c.String("o") == "-" && c.Bool("json"):
		return opt, errors.New("-o - and --json both want standard output: write the change set to a file")
	case c.String("group") != "injector":
		return opt, fmt.Errorf("--group is %q: the one group there is is injector", c.String("group"))
	case c.Args().Get(0) == "-" && c.Args().Get(1) == "-":
		return opt, errors.New("donor and recipient cannot both be standard input")
	}
	for _, f := range []string{"rated-density", "donor-density", "density", "barometer", "pressure", "voltage", "idle-fuel", "air-mass", "speed", "lambda", "bsfc", "duty-limit"} {
		if v := c.Float64(f); c.IsSet(f) && !(v > 0 && v < 1e9) {
			return opt, fmt.Errorf("--%s is %v, want a number above 0", f, v)
		}
	}
	return transfer.Options{
		DonorName: c.Args().Get(0), RecipientName: c.Args().Get(1), Partial: c.Bool("partial"),
		RatedDensity: c.Float64("rated-density"), DonorDensity: c.Float64("donor-density"), RecipientDensity: c.Float64("density"),
		Barometer: c.Float64("barometer"), Pressure: c.Float64("pressure"), Voltage: c.Float64("voltage"),
		IdleFuel: c.Float64("idle-fuel"), BSFC: c.Float64("bsfc"), DutyLimit: c.Float64("duty-limit") / 100,
		Demand: transfer.Demand{AirMass: c.Float64("air-mass"), Speed: c.Float64("speed"), Lambda: c.Float64("lambda"), From: "--air-mass and --speed"},
	}, nil
}
