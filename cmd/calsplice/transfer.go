package main

import (
	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/text"
	"calsplice/cmd/calsplice/view"
	"calsplice/merge/changefile"
	"calsplice/merge/transfer"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablefile"
)

func transferCommand() *cli.Command {
	return &cli.Command{
		Name:      "transfer",
		Usage:     "move injector data from a donor into a calibration",
		ArgsUsage: "DONOR RECIPIENT",
		Flags:     transferFlags(),
		Action:    runTransfer,
	}
}

func runTransfer(c *cli.Context) error {
	opt, err := transferOptions(c)
	if err != nil {
		return err
	}
	docs, err := readAll(c, opt.DonorName, opt.RecipientName)
	if err != nil {
		return err
	}
	if err := logDemand(c, docs[1].Engine(), &opt); err != nil {
		return err
	}
	r, err := transfer.Run(docs[0], docs[1], opt)
	if err != nil {
		return err
	}
	switch out := c.String("o"); {
	case out == "": // only looked at
	case extension(out) == ".html":
		err = writePage(c, out, view.Transfer(r))
	case c.Bool("apply"):
		err = tablefile.Write(out, r.Changed, outputOrPage(c))
	default:
		err = changefile.Write(out, r.Changes, docs[1], outputOrPage(c))
	}
	if err != nil {
		return err
	}
	return printTransfer(c, r)
}

// printTransfer prints the report, which holds the cautions; they go to standard
// error too where the report does not reach the same eyes.
func printTransfer(c *cli.Context, r *transfer.Result) error {
	to := reportWriter(c)
	if f, _ := text.Terminal(to); c.Bool("json") || f == nil && to != c.App.ErrWriter {
		printCautions(c, r.Changes.Cautions...)
	}
	if c.Bool("json") {
		return strictjson.Print(to, r)
	}
	printView(c, view.Transfer(r))
	return nil
}
