package main

import (
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

func (in *input) transferOptions() transfer.Options {
	in.refuse(in.String("o") == "" && in.Bool("apply"), "transfer --apply needs -o FILE for the changed calibration")
	in.refuse(oftenStdin(in.Args().Slice()...), "donor and recipient cannot both be standard input")
	in.check(twiceStdout(in.Context))
	return transfer.Options{
		DonorName: in.arg(0), RecipientName: in.arg(1), Partial: in.Bool("partial"),
		RatedDensity: in.Float64("rated-density"), DonorDensity: in.Float64("donor-density"), RecipientDensity: in.Float64("density"),
		Barometer: in.Float64("barometer"), Pressure: in.Float64("pressure"), Voltage: in.Float64("voltage"),
		IdleFuel: in.Float64("idle-fuel"), BSFC: in.Float64("bsfc"), DutyLimit: in.Float64("duty-limit") / 100,
		Demand: transfer.Demand{AirMass: in.Float64("air-mass"), Speed: in.Float64("speed"), Lambda: in.Float64("lambda"), From: "--air-mass and --speed"},
	}
}

// logDemand finds the highest demand in the log that --log names.
func (in *input) logDemand(e *tables.Engine, opt *transfer.Options) {
	file := in.String("log")
	if file == "" {
		return
	}
	in.refuse(in.IsSet("air-mass") || in.IsSet("speed"), "--log finds the highest demand: leave out --air-mass and --speed, or --log")
	lo := in.logOptions()
	lo.Engine = e
	opt.Demand = get(in, func() (transfer.Demand, error) {
		log, err := drivelog.Open(file, in.App.Reader, lo)
		if err != nil {
			return transfer.Demand{}, err
		}
		defer log.Close()
		d, notes, err := transfer.FindDemand(in.Context.Context, log, e)
		if err == nil {
			printCautions(in.Context, notes...)
		}
		return d, err
	})
	if in.IsSet("lambda") {
		opt.Demand.Lambda = in.Float64("lambda")
	}
}
