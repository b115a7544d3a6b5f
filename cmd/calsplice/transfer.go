package main

import (
	"calsplice/cmd/calsplice/view"
	"calsplice/merge/caution"
	"calsplice/merge/transfer"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

func runTransfer(in *input) {
	opt := in.transferOptions()
	docs := in.docs(opt.DonorName, opt.RecipientName)
	in.logDemand(docs[1].Engine(), &opt)
	r := must(transfer.Run(docs[0], docs[1], opt))
	write := writesChanges(r.Changes, docs[1])
	if in.yes("apply") {
		write = writesDocument(r.Changed)
	}
	in.deliver(result{beside: true, pages: true, view: func() *view.View { return view.Transfer(r) }, json: asJSON(r), cautions: append(r.Cautions, caution.Text()), write: write})
}

func (in *input) transferOptions() transfer.Options {
	refuse(in.text("o") == "" && in.yes("apply"), "transfer --apply needs -o FILE for the changed calibration")
	refuse(oftenStdin(in.args...), "donor and recipient cannot both be standard input")
	in.onceStdout()
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
	refuse(in.given("air-mass") || in.given("speed"), "--log finds the highest demand: leave out --air-mass and --speed, or --log")
	lo := in.logOptions()
	lo.Engine = e
	log := must(drivelog.Open(file, in.stdin, lo))
	defer log.Close()
	d, notes, err := transfer.FindDemand(in.ctx, log, e)
	check(err)
	in.caution(notes...)
	opt.Demand = d
	if in.given("lambda") {
		opt.Demand.Lambda = in.number("lambda")
	}
}
