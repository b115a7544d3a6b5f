package cells

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/sift"
	"calsplice/interp/cells/tally"
	"calsplice/tables"
)

// fromDocument reads a grid back from its document, in the units in which its
// cells were gathered. Where its tables are no longer what its state gives, the error is
// [errEdited].
func fromDocument(doc *tables.Calibration) (*Grid, error) {
	g, err := emptyOf(doc)
	if err != nil {
		return nil, err
	}
	g.sources = slices.Clone(doc.Contents().Source)
	if err := g.readState(doc.Contents().State); err != nil {
		return nil, err
	}
	return g, g.agree(doc)
}

// emptyOf is a grid with a document's axes, channels and settings, and no
// evidence.
func emptyOf(doc *tables.Calibration) (*Grid, error) {
	if doc.Kind() != tables.Cells {
		return nil, fmt.Errorf("is a calibration, expected cell averages")
	}
	var set settings
	asked, ok := doc.Contents().State[settingsKey]
	if !ok {
		return nil, fmt.Errorf("carries no exact state, so that it can be shown and compared, but not combined")
	}
	err := json.Unmarshal([]byte(asked), &set)
	if _, unknown := ParseWeight(string(set.Weight)); err != nil || unknown != nil && set.Version == stateVersion {
		return nil, fmt.Errorf("state %q: %w", settingsKey, tally.ErrState)
	}
	if set.Version != stateVersion {
		return nil, fmt.Errorf("carries state of version %d, expected %d", set.Version, stateVersion)
	}
	// All channels of a document lie on one pair of axes; those of the first one count.
	g := &Grid{settings: set}
	for _, name := range Channels(doc) {
		t := doc.Table(name + ".mean")
		if g.x.Axis == nil {
			g.x, g.y = axes.Axis{Channel: set.X, Axis: t.X()}, axes.Axis{Channel: set.Y, Axis: t.Y()}
		}
		if !g.x.Equal(t.X()) || !g.y.Equal(t.Y()) {
			return nil, fmt.Errorf("table %s has other axes than the tables before it", t.ID())
		}
		g.channels = append(g.channels, channel{name: name, unit: t.Unit(), cells: make([]*tally.Cell, g.size())})
	}
	if len(g.channels) == 0 || g.x.Axis == nil {
		return nil, fmt.Errorf("has no table of cell averages on axes")
	}
	return g, nil
}

// Channels lists the channels of cell averages, in the document's order: those
// that have a `<channel>.mean` table.
func Channels(doc *tables.Calibration) []string {
	var names []string
	for _, t := range doc.Tables() {
		if name, ok := strings.CutSuffix(t.ID(), ".mean"); ok {
			names = append(names, name)
		}
	}
	return names
}

// Asked lists the filters that cell averages were gathered with; known is false where they do
// not say how they were.
func Asked(doc *tables.Calibration) (filters []sift.Filter, known bool) {
	g, err := emptyOf(doc)
	if err != nil {
		return nil, false
	}
	_, asked, _ := strings.Cut("; "+g.settings.Asked, "; filters ")
	asked, _, _ = strings.Cut(asked, "; ")
	return slices.DeleteFunc(slices.Clone(sift.Filters), func(f sift.Filter) bool { return !slices.Contains(strings.Fields(asked), string(f)) }), true
}

// combiner combines cell averages one document after the other, so that any
// number of them needs the room of one.
type combiner struct {
	g     *Grid
	first string
	logs  map[string]string // by fingerprint: a log's name and its document's
}

// toCombine is a document's grid, and errors name the document.
func toCombine(doc *tables.Calibration, name string) (*Grid, error) {
	g, err := fromDocument(doc)
	// The state is in the channel's own unit, so a converted document's tables would say one
	// thing and its state another; which was meant, nobody can tell.
	if err == nil && g.converted != "" {
		err = fmt.Errorf("table %s is not in the unit that its cells were gathered in: convert it back, and then combine", g.converted)
	}
	return g, tables.In(name, 0, 0, "", err)
}

// Add adds a document's grid, with the name that its faults are told by.
func (c *combiner) Add(g *Grid, name string) error {
	if c.g == nil {
		c.first, c.logs = name, map[string]string{}
	} else if err := c.g.sameQuestion(g, c.first); err != nil {
		return tables.In(name, 0, 0, "", err)
	}
	for _, l := range g.logs {
		if was := c.logs[l.Fingerprint]; was != "" {
			return tables.In(name, 0, 0, "", fmt.Errorf("log %s is the same as %s: its samples would count twice", l.Name, was))
		}
		c.logs[l.Fingerprint] = l.Name + " of " + name
	}
	if c.g == nil {
		c.g = g
	} else {
		c.g.merge(g)
	}
	return nil
}

// Document is the cell averages of all documents added.
func (c *combiner) Document() (*tables.Calibration, error) {
	if c.g == nil {
		return nil, fmt.Errorf("no cell averages to combine")
	}
	return c.g.Document()
}

// Combine is the cell averages of all logs behind the given documents: to the
// byte what one reading of these logs gives.
func Combine(docs ...*tables.Calibration) (*tables.Calibration, error) {
	var c combiner
	for i, d := range docs {
		name := fmt.Sprintf("document %d", i+1)
		g, err := toCombine(d, name)
		if err == nil {
			err = c.Add(g, name)
		}
		if err != nil {
			return nil, err
		}
	}
	return c.Document()
}

// To combine is to answer, from several documents, the question that one reading of all
// their logs would have answered; so they must have been asked the same one, down to the
// filters and their bounds.

// sameQuestion refuses cells that were gathered otherwise, naming what differs.
// Channels in another order are brought into that of their names.
func (g *Grid) sameQuestion(o *Grid, first string) error {
	for _, a := range []struct {
		name         string
		ours, theirs *tables.Axis
	}{{"x", g.x.Axis, o.x.Axis}, {"y", g.y.Axis, o.y.Axis}} {
		if !a.ours.Equal(a.theirs) {
			return fmt.Errorf("%s axis is %s, and that of %s is %s%s: only cells on the same axes combine",
				a.name, a.theirs.Text(), first, a.ours.Text(), apart(a.theirs, a.ours))
		}
	}
	ours, theirs := g.settings, o.settings
	for _, s := range []struct{ what, ours, theirs string }{
		{"x channel", ours.X, theirs.X}, {"y channel", ours.Y, theirs.Y},
		{"weight", string(ours.Weight), string(theirs.Weight)}, {"selection", ours.Asked, theirs.Asked},
	} {
		if s.ours != s.theirs {
			return fmt.Errorf("%s is %s, and that of %s is %s: only cells gathered alike combine",
				s.what, tables.Quote(s.theirs), first, tables.Quote(s.ours))
		}
	}
	// The order in which channels were asked for is no part of the question, but the document
	// needs one that does not depend on which came first.
	a, b := g.channelNames(), o.channelNames()
	if !slices.Equal(a, b) {
		slices.Sort(a)
		slices.Sort(b)
		if !slices.Equal(a, b) {
			return fmt.Errorf("channels are %s, and those of %s are %s: only cells of the same channels combine",
				strings.Join(b, ", "), first, strings.Join(a, ", "))
		}
		for _, list := range [][]channel{g.channels, o.channels} {
			slices.SortFunc(list, func(a, b channel) int { return strings.Compare(a.name, b.name) })
		}
	}
	for i, c := range o.channels {
		if u := g.channels[i].unit; c.unit != u {
			return fmt.Errorf("channel %s is in %s, and that of %s in %s", c.name, tables.Quote(c.unit), first, tables.Quote(u))
		}
	}
	return nil
}

// channelNames lists the channels in the grid's order.
func (g *Grid) channelNames() []string {
	return tables.Each(g.channels, func(c channel) string { return c.name })
}

// apart reports where the breakpoints of two axes differ that look alike in a line.
func apart(a, b *tables.Axis) string {
	if a == nil || b == nil || a.Text() != b.Text() {
		return ""
	}
	for i, v := range a.Points() {
		if w := b.At(i); v != w {
			return fmt.Sprintf(", with %s for %s", tables.FormatValue(w), tables.FormatValue(v))
		}
	}
	return ""
}
