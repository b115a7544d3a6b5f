package main

import (
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/text"
	"calsplice/merge/cause"
	"calsplice/merge/caution"
	"calsplice/tables"
)

// tellCauses prints an explanation for a person in a hurry: what to do and not
// to do first, then the ranking, then what it rests on.
func tellCauses(c *cli.Context, res *cause.Result) error {
	p, err := printer(c)
	if err != nil {
		return err
	}
	p.Wrap("", "Result: "+res.Verdict)
	for _, s := range res.Orders() {
		p.Wrap("  ", s)
	}
	p.Line("")
	p.Line("%-20s %7s %8s %13s", "cause", "share", "margin", "largest trim")
	for _, f := range res.Found {
		effect := ""
		if f.Cause != cause.None {
			effect = fmt.Sprintf("%.1f %%", f.Effect)
		}
		p.Line("%-20s %5.0f %% %+6.0f %% %13s", f.Cause, 100*f.Share, 100*f.Margin, effect)
	}
	p.Wrap("", "share: of the trim that the cause explains in parts of the drive that its fit has not seen; for none, that needs no cause")
	for i := range res.Found[:min(2, len(res.Found))] {
		tellFinding(p, &res.Found[i])
	}
	if pair := res.Together; pair != nil {
		p.Line("")
		p.Wrap("", fmt.Sprintf("Two at once: %s with %s explain %.0f %%, %.0f %% more than any cause alone.",
			pair.Causes[0], pair.Causes[1], 100*pair.Share, 100*pair.Gain))
	}
	tellBands(p, res)
	p.Line("")
	for _, u := range res.Unexamined {
		p.Wrap("", fmt.Sprintf("not examined: %s: %s", u.Cause, u.Why))
	}
	if b := res.Banks; b != nil {
		p.Wrap("", fmt.Sprintf("bank 2's trim stands %+.1f %% over bank 1's", b.Difference))
	}
	p.Wrap("", fmt.Sprintf("trims within ±5 %% in %.0f %% of the settled time (commonly accepted as normal)", 100*res.Share5))
	for _, l := range res.Logs {
		p.Wrap("", fmt.Sprintf("%s: %d of %d rows are evidence", tables.Clean(l.Name), l.Kept, l.Rows))
	}
	for _, s := range res.Cautions {
		p.Wrap("note: ", tables.Clean(s))
	}
	p.Line("")
	p.Wrap("", caution.Text())
	return nil
}

func tellFinding(p *text.Printer, f *cause.Finding) {
	if f.Share < 0.05 {
		return
	}
	p.Line("")
	p.Wrap("", fmt.Sprintf("%s: %s", f.Cause, f.Cause.Title()))
	for _, s := range f.Evidence {
		p.Wrap("  - ", s)
	}
	if len(f.Alike) > 0 {
		list := f.Alike[0]
		for _, a := range f.Alike[1:] {
			list += "; " + a
		}
		p.Wrap("  - ", "trims alone cannot tell it from: "+list)
	}
	if f.Cause != cause.None {
		p.Wrap("  - ", "test: "+f.Test)
	}
}

// tellBands shows the trims along what separates causes best, beside what the
// leading cause predicts.
func tellBands(p *text.Printer, res *cause.Result) {
	quantity, unit, bands := res.Bands()
	if len(bands) < 2 {
		return
	}
	p.Line("")
	two := bands[0].Seen[1] == bands[0].Seen[1]
	head := fmt.Sprintf("%-23s %8s %8s %10s", quantity+" ["+unit+"]", "time", "trim", "predicted")
	if two {
		head = fmt.Sprintf("%-23s %8s %8s %10s %8s %10s", quantity+" ["+unit+"]", "time", "bank 1", "predicted", "bank 2", "predicted")
	}
	p.Line("%s", head)
	percent := func(v float64) string {
		if math.IsNaN(v) {
			return "-"
		}
		return fmt.Sprintf("%+.1f %%", math.Round(v*10)/10+0)
	}
	for _, b := range bands {
		line := fmt.Sprintf("%-23s %6.0f s %8s %10s", fmt.Sprintf("%.4g to %.4g", b.Low, b.High), b.Seconds, percent(b.Seen[0]), percent(b.Predicted[0]))
		if two {
			line += fmt.Sprintf(" %8s %10s", percent(b.Seen[1]), percent(b.Predicted[1]))
		}
		p.Line("%s", line)
	}
}
