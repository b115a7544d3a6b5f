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
		p.hanging(indent, f.Name+": "+f.Value, view.Cell{})
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

// item prints a line of a list, shaded where it tells of a change, and what stands below
// it.
func (p *Printer) item(indent string, i view.Item) {
	c := view.Cell{}
	if i.Tint != 0 {
		c = view.Cell{Scale: view.BySign, Level: i.Tint}
	}
	p.hanging(indent, i.Line(), c)
	if i.Under != "" {
		p.Wrap(indent+"  ", i.Under)
	}
}

// hanging wraps a line of a list, so that the next one is seen to begin.
func (p *Printer) hanging(indent, s string, c view.Cell) {
	for _, line := range broken(indent, indent+"  ", s, p.Width) {
		rest := strings.TrimLeft(line, " ")
		p.Line("%s", line[:len(line)-len(rest)]+p.Paint(rest, c))
	}
}

// grids prints the grids of a part that a terminal shows, each with its name
// where there are several.
func (p *Printer) grids(part *view.Part) {
	for _, g := range part.Grids {
		if len(part.Grids) == 1 {
			g.Name = "" // the heading names it
		}
		if g.On != view.OnPages {
			p.Grid(g)
		}
	}
}
