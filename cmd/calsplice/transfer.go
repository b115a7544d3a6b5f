package main

import (
	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/view"
	"calsplice/merge/caution"
	"calsplice/merge/changefile"
	"calsplice/merge/transfer"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/tablefile"
)

func runTransfer(c *cli.Context) error {
	in := reading(c)
	opt := in.transferOptions()
	docs := in.docs(opt.DonorName, opt.RecipientName)
	if in.err != nil {
		return in.err
	}
	if in.logDemand(docs[1].Engine(), &opt); in.err != nil {
		return in.err
	}
	r, err := transfer.Run(docs[0], docs[1], opt)
	if err != nil {
		return err
	}
	v := viewed(func() *view.View { return view.Transfer(r) })
	return deliver(c, result{beside: true, view: v, page: v, json: asJSON(r), cautions: append(r.Cautions, caution.Text()), write: func(out string) error {
		if c.Bool("apply") {
			return tablefile.Write(out, r.Changed, outputOrPage(c))
		}
		return changefile.Write(out, r.Changes, docs[1], outputOrPage(c))
	}})
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
