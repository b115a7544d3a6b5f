package main

import (
	"errors"

	"github.com/urfave/cli/v2"

	"calsplice/merge/transfer"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

func transferFlags() []cli.Flag {
	return append([]cli.Flag{
		outFlag("`FILE`: the change set, or with --apply the changed calibration"), formatFlag(),
		&cli.BoolFlag{Name: "apply", Usage: "write the changed calibration"},
		&cli.StringFlag{Name: "group", Value: "injector", Usage: "`GROUP`: the tables that move; there is one group"},
		&cli.BoolFlag{Name: "partial", Usage: "move what both sides have, and leave the rest"},
		positive(&cli.Float64Flag{Name: "rated-density", Usage: "`KG/L`: density of the fluid that the donor's flow was measured with", DefaultText: "the donor's fuel"}),
		positive(&cli.Float64Flag{Name: "donor-density", Usage: "`KG/L`: density of the donor's fuel", DefaultText: "the donor's own"}),
		positive(&cli.Float64Flag{Name: "density", Usage: "`KG/L`: density of the recipient's fuel", DefaultText: "the recipient's own"}),
		positive(&cli.Float64Flag{Name: "barometer", Usage: "`KPA`: barometric pressure", DefaultText: "101.325"}),
		positive(&cli.Float64Flag{Name: "pressure", Usage: "`KPA`: differential pressure of recipient tables without a pressure axis", DefaultText: "none"}),
		positive(&cli.Float64Flag{Name: "voltage", Usage: "`V`: battery voltage of recipient tables without a voltage axis", DefaultText: "none"}),
		positive(&cli.Float64Flag{Name: "idle-fuel", Usage: "`MG`: fuel an injection at idle, for the report", DefaultText: "15 % of a full cylinder"}),
		&cli.StringFlag{Name: "log", Usage: "`LOG`: a drive log to find the highest demand in"},
		positive(&cli.Float64Flag{Name: "air-mass", Usage: "`MG`: highest demand: air a cylinder and cycle", DefaultText: "none"}),
		positive(&cli.Float64Flag{Name: "speed", Usage: "`R/MIN`: highest demand: engine speed", DefaultText: "none"}),
		positive(&cli.Float64Flag{Name: "lambda", Usage: "`LAMBDA`: highest demand: lambda", DefaultText: "0.85"}),
		positive(&cli.Float64Flag{Name: "bsfc", Usage: "`GRAMS`: fuel for a kWh", DefaultText: "304"}),
		numberFlag(&cli.Float64Flag{Name: "duty-limit", Usage: "`PERCENT`: highest duty", DefaultText: "85"}, "a number above 0 and no more than 100 %",
			func(v float64) bool { return v > 0 && v <= 100 }),
		jsonFlag(), colorFlag(),
	}, logFlags()...)
}

func transferOptions(c *cli.Context) (transfer.Options, error) {
	var opt transfer.Options
	switch {
	case c.String("o") == "" && c.Bool("apply"):
		return opt, errors.New("transfer --apply needs -o FILE for the changed calibration")
	case c.Args().Get(0) == "-" && c.Args().Get(1) == "-":
		return opt, errors.New("donor and recipient cannot both be standard input")
	}
	if err := twiceStdout(c); err != nil {
		return opt, err
	}
	return transfer.Options{
		DonorName: c.Args().Get(0), RecipientName: c.Args().Get(1), Partial: c.Bool("partial"),
		RatedDensity: c.Float64("rated-density"), DonorDensity: c.Float64("donor-density"), RecipientDensity: c.Float64("density"),
		Barometer: c.Float64("barometer"), Pressure: c.Float64("pressure"), Voltage: c.Float64("voltage"),
		IdleFuel: c.Float64("idle-fuel"), BSFC: c.Float64("bsfc"), DutyLimit: c.Float64("duty-limit") / 100,
		Demand: transfer.Demand{AirMass: c.Float64("air-mass"), Speed: c.Float64("speed"), Lambda: c.Float64("lambda"), From: "--air-mass and --speed"},
	}, nil
}

// logDemand finds the highest demand in the log that --log names.
func logDemand(c *cli.Context, e *tables.Engine, opt *transfer.Options) error {
	if c.String("log") == "" {
		return nil
	}
	if c.IsSet("air-mass") || c.IsSet("speed") {
		return errors.New("--log finds the highest demand: leave out --air-mass and --speed, or --log")
	}
	lo, err := logOptions(c)
	if err != nil {
		return err
	}
	lo.Engine = e
	log, err := drivelog.Open(c.String("log"), c.App.Reader, lo)
	if err != nil {
		return err
	}
	defer log.Close()
	d, notes, err := transfer.FindDemand(c.Context, log, e)
	if err != nil {
		return err
	}
	printCautions(c, notes...)
	if c.IsSet("lambda") {
		d.Lambda = c.Float64("lambda")
	}
	opt.Demand = d
	return nil
}
