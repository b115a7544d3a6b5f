package main

import (
	"calsplice/cmd/calsplice/view"
	"calsplice/merge/caution"
	"calsplice/merge/transfer"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

func runTransfer(in *input) error {
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
	write := writesChanges(r.Changes, docs[1])
	if in.yes("apply") {
		write = writesDocument(r.Changed)
	}
	return in.deliver(result{beside: true, view: v, page: v, json: asJSON(r), cautions: append(r.Cautions, caution.Text()), write: write})
}

func (in *input) transferOptions() transfer.Options {
	in.refuse(in.text("o") == "" && in.yes("apply"), "transfer --apply needs -o FILE for the changed calibration")
	in.refuse(oftenStdin(in.args...), "donor and recipient cannot both be standard input")
	in.check(in.twiceStdout())
	return transfer.Options{
		DonorName: in.arg(0), RecipientName: in.arg(1), Partial: in.yes("partial"),
		RatedDensity: in.number("rated-density"), DonorDensity: in.number("donor-density"), RecipientDensity: in.number("density"),
		Barometer: in.number("barometer"), Pressure: in.number("pressure"), Voltage: in.number("voltage"),
		IdleFuel: in.number("idle-fuel"), BSFC: in.number("bsfc"), DutyLimit: in.number("duty-limit") / 100,
		Demand: transfer.Demand{AirMass: in.number("air-mass"), Speed: in.number("speed"), Lambda: in.number("lambda"), From: "--air-mass and --speed"},
	}
}

// logDemand finds the highest demand in the log that --log names.
func (in *input) logDemand(e *tables.Engine, opt *transfer.Options) {
	file := in.text("log")
	if file == "" {
		return
	}
	in.refuse(in.given("air-mass") || in.given("speed"), "--log finds the highest demand: leave out --air-mass and --speed, or --log")
	lo := in.logOptions()
	lo.Engine = e
	opt.Demand = get(in, func() (transfer.Demand, error) {
		log, err := drivelog.Open(file, in.stdin, lo)
		if err != nil {
			return transfer.Demand{}, err
		}
		defer log.Close()
		d, notes, err := transfer.FindDemand(in.ctx, log, e)
		if err == nil {
			in.caution(notes...)
		}
		return d, err
	})
	if in.given("lambda") {
		opt.Demand.Lambda = in.number("lambda")
	}
}
