package main

import (
	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/view"
	"calsplice/merge/changefile"
	"calsplice/merge/transfer"
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
	return deliver(c, result{beside: true, view: v, page: v, json: asJSON(r), cautions: r.Changes.Cautions, write: func(out string) error {
		if c.Bool("apply") {
			return tablefile.Write(out, r.Changed, outputOrPage(c))
		}
		return changefile.Write(out, r.Changes, docs[1], outputOrPage(c))
	}})
}
