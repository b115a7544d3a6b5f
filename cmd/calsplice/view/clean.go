package view

import "calsplice/tables"

// Cleaned is the view with every text cleaned by [tables.Clean]. Both renderers
// print it and nothing else.
func (v *View) Cleaned() *View {
	c := *v
	c.Title, c.Kind, c.Verdict = tables.Clean(v.Title), tables.Clean(v.Kind), tables.Clean(v.Verdict)
	c.Lead, c.Last, c.Cautions = cleaned(v.Lead), cleaned(v.Last), cleaned(v.Cautions)
	c.Links = each(v.Links, Link.cleaned)
	c.Steps = each(v.Steps, func(s Step) Step {
		s.Heading, s.Text, s.Commands = tables.Clean(s.Heading), cleaned(s.Text), cleaned(s.Commands)
		s.Charts, s.Links = each(s.Charts, Chart.cleaned), each(s.Links, Link.cleaned)
		return s
	})
	c.Parts = each(v.Parts, Part.cleaned)
	return &c
}

func (p Part) cleaned() Part {
	p.Heading, p.Note, p.Text = tables.Clean(p.Heading), tables.Clean(p.Note), cleaned(p.Text)
	p.Facts = each(p.Facts, func(f Fact) Fact { return Fact{tables.Clean(f.Name), tables.Clean(f.Value)} })
	p.Items = each(p.Items, func(i Item) Item {
		i.Text, i.Under = tables.Clean(i.Text), tables.Clean(i.Under)
		i.Words = each(i.Words, func(w Word) Word { return Word{w.Op, tables.Clean(w.Text)} })
		return i
	})
	p.Grids = each(p.Grids, Grid.cleaned)
	p.Charts = each(p.Charts, Chart.cleaned)
	if p.Rows != nil {
		r := *p.Rows
		r.Caption, r.More, r.Head, r.Lines = tables.Clean(r.Caption), tables.Clean(r.More), cleaned(r.Head), each(r.Lines, cleaned)
		p.Rows = &r
	}
	return p
}

func (l Link) cleaned() Link {
	return Link{tables.Clean(l.Href), tables.Clean(l.Text), tables.Clean(l.Note)}
}

func (c Chart) cleaned() Chart {
	c.Title, c.XName, c.YName = tables.Clean(c.Title), tables.Clean(c.XName), tables.Clean(c.YName)
	return c
}

func (g Grid) cleaned() Grid {
	g.Name, g.Unit, g.XName, g.YName = tables.Clean(g.Name), tables.Clean(g.Unit), tables.Clean(g.XName), tables.Clean(g.YName)
	g.Legend = each(g.Legend, func(c Cell) Cell { c.Text = tables.Clean(c.Text); return c })
	g.Cells = each(g.Cells, func(row []Cell) []Cell {
		return each(row, func(c Cell) Cell {
			c.Text, c.Note = tables.Clean(c.Text), tables.Clean(c.Note)
			return c
		})
	})
	return g
}

func cleaned(list []string) []string { return each(list, tables.Clean) }

// each is what f makes of every element; nil stays nil.
func each[T any](list []T, f func(T) T) []T {
	if list == nil {
		return nil
	}
	out := make([]T, len(list))
	for i, e := range list {
		out[i] = f(e)
	}
	return out
}
