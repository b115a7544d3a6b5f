package text

import (
	"slices"
	"strings"

	"calsplice/cmd/calsplice/view"
	"calsplice/merge/caution"
)

// View prints a result: the lead, then part by part, what it sums up to, and
// what to be careful of.
func (p *Printer) View(v *view.View) {
	v = view.Cleaned(v)
	p.block(len(v.Opening)+len(v.Lead) > 0)
	p.list("", v.Opening)
	p.list("", v.Lead)
	for i := range v.Parts {
		if v.Parts[i].On != view.OnPages {
			p.part(&v.Parts[i])
		}
	}
	p.block(len(v.Last) > 0)
	p.list("", v.Last)
	if v.Offers {
		v.Cautions = slices.Concat(v.Cautions, []string{caution.Text()})
	}
	if len(v.Cautions) > 0 {
		p.block(true)
		p.Line("Cautions")
		p.list("- ", v.Cautions)
	}
}

// block separates what follows from what was printed before.
func (p *Printer) block(any bool) {
	if any && p.begun {
		p.Line("")
	}
	p.begun = p.begun || any
}

func (p *Printer) list(lead string, lines []string) {
	for _, s := range lines {
		p.Wrap(lead, s)
	}
}

// part prints what a terminal shows of a part; under a heading all but grids is
// indented.
func (p *Printer) part(part *view.Part) {
	p.block(true)
	indent := ""
	if part.Heading != "" {
		p.Wrap("", part.Heading)
		indent = "  "
	}
	p.list(indent, part.Text)
	for _, f := range part.Facts {
		p.hanging(indent, f.Name+": "+f.Value)
	}
	if len(part.Text) > 0 {
		indent = "  "
	}
	for _, i := range part.Items {
		p.item(indent, i)
	}
	p.grids(part)
	if part.Rows != nil {
		p.Rows(part.Rows)
	}
	if part.Note != "" {
		p.Wrap(indent, part.Note)
	}
}

func (p *Printer) item(indent string, i view.Item) {
	p.tinted(indent, i.Line(), i.Tint)
	if i.Under != "" {
		p.Wrap(indent+"  ", i.Under)
	}
}

// hanging wraps a line of a list, so that the next one is seen to begin.
func (p *Printer) hanging(indent, s string) {
	p.lines(broken(indent, indent+"  ", s, p.Width))
}

// tinted wraps a line and shades it where it tells of a change.
func (p *Printer) tinted(indent, s string, tint float64) {
	if tint == 0 || p.Depth == None {
		p.hanging(indent, s)
		return
	}
	c := view.Cell{Scale: view.BySign, Level: tint}
	for _, line := range broken(indent, indent+"  ", s, p.Width) {
		rest := strings.TrimLeft(line, " ")
		p.Line("%s", line[:len(line)-len(rest)]+p.Paint(rest, c))
	}
}

// grids prints the grids of a part that a terminal shows, each with its name
// where there are several.
func (p *Printer) grids(part *view.Part) {
	var shown []view.Grid
	for _, g := range part.Grids {
		if g.On != view.OnPages {
			shown = append(shown, g)
		}
	}
	for _, g := range shown {
		if len(part.Grids) == 1 {
			g.Name = "" // the heading names it
		}
		p.Grid(g)
	}
}
