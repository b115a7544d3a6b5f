package main

import (
	"slices"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/view"
	"calsplice/merge"
	"calsplice/merge/caution"
	"calsplice/merge/changefile"
	"calsplice/merge/propose"
)

func fuelFlags() []cli.Flag {
	d := propose.Defaults()
	return append(proposeFlags(d, "per cent of fuel"),
		&cli.StringFlag{Name: "by", Value: "cells", Usage: "`HOW`: cells, or fit for flow and offset together"},
		&cli.Float64Flag{Name: "gain", Value: d.Gain, Usage: "`SHARE`: how much of the evidence to correct in one pass"},
		&cli.Float64Flag{Name: "dead-band", Value: d.DeadBand, Usage: "`PERCENT`: trim to leave alone, 0.78 at least"},
		&cli.BoolFlag{Name: "only-visited", Usage: "leave a flow curve's breakpoints without evidence alone"},
		railFlag(),
		&cli.BoolFlag{Name: "despite-cause", Usage: "propose edits even where the cause is not certain, or the table does not hold it"})
}

func sparkFlags() []cli.Flag {
	return append(proposeFlags(propose.SparkDefaults(), "degrees of spark"),
		&cli.BoolFlag{Name: "despite-cause", Usage: "propose edits although the cause is to be repaired"})
}

func proposeFlags(d propose.Options, bound string) []cli.Flag {
	return append(logFlags(),
		outFlag("`FILE`: the change set: .json .csv .xlsx .patch.json, or a page to decide on: .html"), formatFlag(), jsonFlag(), colorFlag(),
		&cli.StringFlag{Name: "target", Usage: "`ID`: the table to correct"},
		&cli.Float64Flag{Name: "bound", Value: d.Bound, Usage: "`N`: most that one pass changes, in " + bound},
		&cli.IntFlag{Name: "min-count", Value: d.MinCount, Usage: "`N`: samples that a cell needs"},
		&cli.IntFlag{Name: "min-visits", Value: d.MinVisits, Usage: "`N`: visits that a cell needs"})
}

// proposal reads the documents, makes the proposal, writes the change set and
// reports.
func proposal(from func(in *propose.Input) (*propose.Proposal, error)) cli.ActionFunc {
	return func(c *cli.Context) error {
		in := reading(c)
		evidence := in.proposalInput()
		if in.err != nil {
			return in.err
		}
		p, err := from(evidence)
		if err != nil {
			return err
		}
		after, err := merge.Apply(evidence.Cal, p.Changes)
		if err != nil {
			return err
		}
		cautions := slices.Concat(p.Report.First, p.Report.Cautions)
		if len(p.Report.Edits) > 0 {
			cautions = append(cautions, caution.Text())
		}
		v := viewed(func() *view.View { return view.Proposal(evidence.Cal, after, p) })
		return deliver(c, result{beside: true, view: v, page: v, json: asJSON(&p.Report), cautions: cautions, found: len(p.Report.Edits) > 0,
			write: func(out string) error { return changefile.Write(out, p.Changes, evidence.Cal, outputOrPage(c)) }})
	}
}
