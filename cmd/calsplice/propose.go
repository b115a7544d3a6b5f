package main

import (
	"slices"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/text"
	"calsplice/cmd/calsplice/view"
	"calsplice/merge"
	"calsplice/merge/caution"
	"calsplice/merge/changefile"
	"calsplice/merge/propose"
	"calsplice/tables"
	"calsplice/tables/strictjson"
)

func proposeCommand() *cli.Command {
	return &cli.Command{
		Name:      "propose",
		Usage:     "propose small, bounded corrections with their evidence",
		ArgsUsage: "fuel|spark",
		Action: func(c *cli.Context) error {
			if c.NArg() > 0 {
				return unknownCommand("calsplice propose", c.Args().First(), c.Command.Subcommands)
			}
			return cli.ShowSubcommandHelp(c)
		},
		Subcommands: []*cli.Command{{
			Name:      "fuel",
			Usage:     "propose corrections of flow or air from fuel trims",
			ArgsUsage: "CAL LOG|CELLS...",
			Flags: append(proposeFlags(propose.Defaults(), "per cent of fuel"),
				&cli.StringFlag{Name: "by", Value: "cells", Usage: "`HOW`: cells, or fit for flow and offset together"},
				&cli.Float64Flag{Name: "gain", Value: propose.Defaults().Gain, Usage: "`SHARE`: how much of the evidence to correct in one pass"},
				&cli.Float64Flag{Name: "dead-band", Value: propose.Defaults().DeadBand, Usage: "`PERCENT`: trim to leave alone, 0.78 at least"},
				&cli.BoolFlag{Name: "only-visited", Usage: "leave a flow curve's breakpoints without evidence alone"},
				railFlag(),
				&cli.BoolFlag{Name: "despite-cause", Usage: "propose edits even where the cause is not certain, or the table does not hold it"}),
			Action: func(c *cli.Context) error { return runProposal(c, propose.Fuel) },
		}, {
			Name:      "spark",
			Usage:     "propose less advance where the engine knocks persistently",
			ArgsUsage: "CAL LOG|CELLS...",
			Flags: append(proposeFlags(propose.SparkDefaults(), "degrees of spark"),
				&cli.BoolFlag{Name: "despite-cause", Usage: "propose edits although the cause is to be repaired"}),
			Action: func(c *cli.Context) error { return runProposal(c, propose.Spark) },
		}},
	}
}

func proposeFlags(d propose.Options, bound string) []cli.Flag {
	return append(logFlags(),
		outFlag("`FILE`: the change set: .json .csv .xlsx .patch.json, or a page to decide on: .html"), formatFlag(), jsonFlag(), colorFlag(),
		&cli.StringFlag{Name: "target", Usage: "`ID`: the table to correct"},
		&cli.Float64Flag{Name: "bound", Value: d.Bound, Usage: "`N`: most that one pass changes, in " + bound},
		&cli.IntFlag{Name: "min-count", Value: d.MinCount, Usage: "`N`: samples that a cell needs"},
		&cli.IntFlag{Name: "min-visits", Value: d.MinVisits, Usage: "`N`: visits that a cell needs"})
}

// runProposal reads the documents, makes the proposal, writes the change set
// and reports.
func runProposal(c *cli.Context, from func(in *propose.Input) (*propose.Proposal, error)) error {
	in, err := proposalInput(c)
	if err != nil {
		return err
	}
	p, err := from(in)
	if err != nil {
		return err
	}
	after, err := merge.Apply(in.Cal, p.Changes)
	if err != nil {
		return err
	}
	v := view.Proposal(in.Cal, after, p)
	if err := writeProposal(c, in.Cal, p, v); err != nil {
		return err
	}
	if err := printProposal(c, &p.Report, v); err != nil || len(p.Report.Edits) == 0 {
		return err
	}
	printCautions(c, caution.Text())
	return errReport
}

// printProposal prints the report. What stands before any number goes to
// standard error too, where the report does not reach the same eyes.
func printProposal(c *cli.Context, r *propose.Report, v *view.View) error {
	lines := r.Cautions
	if f, _ := text.Terminal(c.App.Writer); c.Bool("json") || c.String("o") == "-" || f == nil {
		lines = slices.Concat(r.First, lines)
	}
	printCautions(c, lines...)
	switch {
	case c.Bool("json"):
		return strictjson.Print(c.App.Writer, r)
	case c.String("o") != "-":
		printView(c, v)
	}
	return nil
}

// writeProposal writes -o, by its extension a change set or a page.
func writeProposal(c *cli.Context, cal *tables.Calibration, p *propose.Proposal, v *view.View) error {
	switch out := c.String("o"); {
	case out == "":
		return nil
	case extension(out) == ".html":
		return writePage(c, out, v)
	default:
		return changefile.Write(out, p.Changes, cal, outputOrPage(c))
	}
}
