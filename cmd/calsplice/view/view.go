// Package view builds a result as a person reads it, once: what was found in a
// sentence or two, then parts with facts, grids and rows, then what to be
// careful of. Package text prints a [View] on a terminal and package page as a
// page; neither knows which result it is.
//
// A view holds words and the sizes that shades show, no colours and no
// layout. Its strings are as users wrote them: the two renderers take
// [Cleaned], so that no name steers a terminal or a browser.
package view

import (
	"fmt"
	"math"
	"strings"

	"calsplice/tables"
)

// View is one result.
type View struct {
	Title, Kind string   // what a page is called, and what kind of result it is
	Verdict     string   // the result in a sentence, a page's heading; "" where the title is
	Opening     []string // what a page's heading says, for terminals
	Lead        []string
	Steps       []Step // of a story, numbered, on pages
	Parts       []Part
	Last        []string // what a terminal reads last and a page first: the sum of it
	Cautions    []string // the result's own
	Standing    bool     // pages show the standing cautions too
	Offers      bool     // terminals show them as well: the result is new numbers, or what to do
	Decide      *Decide  // what a person decides on the page; nil for nothing
}

// Link leads to another file in the same folder.
type Link struct{ Href, Text, Note string }

// Step is one step of a story: what was learned, and the commands that made it.
type Step struct {
	Heading  string
	Text     []string
	Charts   []Chart
	Commands []string
	Links    []Link
}

// Part is one part of a result; what it does not have is left out. Grids of one
// part have the same breakpoints.
type Part struct {
	Heading string
	Text    []string
	Facts   []Fact
	Items   []Item
	Grids   []Grid
	Charts  []Chart // for pages
	Rows    *Rows
	Note    string // below the rest, such as what marks mean
	Decide  int    // 1 + the table of [View.Decide] that is decided about here
	On      Medium
}

// listPart is a list under a heading.
func listPart(heading string, lines []string) Part {
	p := Part{Heading: heading}
	for _, l := range lines {
		p.Items = append(p.Items, Item{Text: l})
	}
	return p
}

// fact adds what has a value.
func (p *Part) fact(name, value string) {
	if value != "" {
		p.Facts = append(p.Facts, Fact{name, value})
	}
}

// first is the beginning of a list that may be too long to read, and how many are
// left out, in words with a %s.
func first[T any](list []T, most int, words string) (shown []T, more string) {
	if n := len(list) - most; n > 0 {
		return list[:most:most], fmt.Sprintf(words, tables.Thousands(n))
	}
	return list, ""
}

// maybe writes a number that is not always known, by a dash where it is not.
func maybe(v float64, write func(v float64) string) string {
	if math.IsNaN(v) {
		return "–"
	}
	return write(v)
}

// fixed writes numbers with so many decimals and a unit, and withSign those of either sign.
func fixed(places int, unit string) func(v float64) string {
	return func(v float64) string { return tables.Fixed(v, places) + unit }
}

func withSign(places int, unit string) func(v float64) string {
	return func(v float64) string { return tables.Signed(v, places) + unit }
}

// words are what there is to say, each where it holds.
type words []string

func (w *words) when(holds bool, format string, args ...any) {
	if holds {
		*w = append(*w, fmt.Sprintf(format, args...))
	}
}

// add adds parts; one that has nothing but a heading or a note is left out.
func (v *View) add(parts ...Part) {
	for _, p := range parts {
		if len(p.Text)+len(p.Facts)+len(p.Items)+len(p.Grids)+len(p.Charts)+p.Decide > 0 || p.Rows != nil && p.Rows.Lines != nil {
			v.Parts = append(v.Parts, p)
		}
	}
}

// Medium is where something stands.
type Medium int

// A terminal holds less than a page: before and after stand on a page beside
// the difference, words that a picture tells better stand on a terminal.
const (
	Both Medium = iota
	OnPages
	OnTerminals
)

// Fact is a name and a value.
type Fact struct{ Name, Value string }

// Item is one line of a list. Words replace the text where a text differs from
// another, Under is a remark below it, and Tint, from −1 to 1, is the sign and
// the share of a change.
type Item struct {
	Text  string
	Words []Word
	Under string
	Tint  float64
	Edit  bool // it says an edit that is decided about in a row of its own
}

// Line is the item in one line of text, with what one side only has in brackets:
// [-gone-]{+new+}.
func (i Item) Line() string {
	s := i.Text
	for _, w := range i.Words {
		switch w.Op {
		case "add":
			s += "{+" + w.Text + "+}"
		case "remove":
			s += "[-" + w.Text + "-]"
		default:
			s += w.Text
		}
	}
	return s
}

// Word is a stretch of text that both have, or that one has ("add", "remove").
type Word struct{ Op, Text string }

// Grid is a table under its axes: breakpoints head its columns and its lines. A curve has
// one line without a heading, a scalar one cell.
type Grid struct {
	Table
	Name, Unit   string
	XName, YName string // such as "engine speed [r/min]"; "" where there is no axis
	Legend       []Cell // what shades mean: each with the number that it begins at
	On           Medium
}

// Cell is one value. Whatever its shade and marks say, its text or note says too.
type Cell struct {
	Text  string
	Scale Scale
	Level float64 // on the scale: 0 to 1 by size, −1 to 1 by sign and size
	Mark  Mark
	Note  string
}

// Scale says which of the two colour scales shades a cell.
type Scale int

// Cells without a scale have no shade.
const (
	Plain Scale = iota
	BySize
	BySign
)

// Mark is what sets a cell apart.
type Mark int

// The marks. All but the first and the last are written, by [Cell.Marked].
const (
	Changed  Mark = 1 << iota
	Thin          // too little evidence to act on
	Filled        // no evidence: from what surrounds it
	Inferred      // no evidence: by a stated rule
	AtLimit       // a lower bound
	Faint         // nothing to see here
)

// Marked is the cell's text with its marks written.
func (c Cell) Marked() string {
	s := c.Text
	if c.Mark&Thin != 0 {
		s = "(" + s + ")"
	}
	if c.Mark&Filled != 0 {
		s = "[" + s + "]"
	}
	if c.Mark&Inferred != 0 {
		s += "~"
	}
	if c.Mark&AtLimit != 0 {
		s += "!"
	}
	return s
}

// Trails reports whether the marks end in a sign behind the figures.
func (c Cell) Trails() bool { return c.Mark&(Inferred|AtLimit) != 0 }

// Table is lines of cells, the first of which heads its line.
type Table struct {
	Head    []string // of each column; nil where there are none
	Numbers []bool   // columns that hold numbers
	Lines   [][]Cell
}

// Number reports whether a column holds numbers.
func (t Table) Number(column int) bool { return column < len(t.Numbers) && t.Numbers[column] }

// Rows is an ordinary table.
type Rows struct {
	Table
	Caption string
	More    string // below, such as how many rows were left out
	Edits   bool   // they say what is decided about in rows of its own
}

// NewRows begins a table; "#" before a heading marks a column of numbers.
func NewRows(head ...string) *Rows {
	r := &Rows{}
	for _, h := range head {
		r.column(h)
	}
	return r
}

func (r *Rows) column(head string) {
	name, number := strings.CutPrefix(head, "#")
	r.Head, r.Numbers = append(r.Head, name), append(r.Numbers, number)
}

// Line adds a line.
func (r *Rows) Line(texts ...string) { r.Lines = append(r.Lines, Texts(texts)) }

// Texts are cells of nothing but text.
func Texts(texts []string) []Cell {
	line := make([]Cell, len(texts))
	for i, s := range texts {
		line[i].Text = s
	}
	return line
}

// Chart is a picture, as data: lines or points over one axis, the surface of a map, or
// channels over time.
type Chart struct {
	Title        string
	XName, YName string
	Points       bool    // points without lines
	Normal       float64 // ± this is shaded as normal; 0 for nothing
	Series       []Series
	Surface      *Surface
	Trace        *Trace
}

// Surface is a map to be drawn, and how it stood before; nil where it did not.
type Surface struct {
	X, Y          []string
	Before, After [][]float64
	Marked        [][2]int // cells that changed
}

// Series is one line of a chart. Class is "before", "after" or "other"; a NaN
// breaks the line. Dots marks its points.
type Series struct {
	Name, Class string
	X, Y        []float64
	Dots        bool
}
