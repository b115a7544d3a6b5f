// Package page writes results as pages: one self-contained HTML file each,
// which fetches nothing, reads without scripts, by keyboard, in light and dark,
// on a phone and on paper.
//
// A [Page] is words first (what a customer understands), then sections of
// facts, grids, pictures and rows. What the numbers mean is decided elsewhere:
// the package knows how a page looks and that nothing written by a user can
// steer a browser (html/template escapes it, and the page's own
// Content-Security-Policy forbids whatever it did not itself bring).
package page

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"html/template"
	"io"
	"slices"
	"strings"

	"calsplice/tables"
)

// Page is one page.
type Page struct {
	Title    string
	Kind     string   // what kind of page it is, under the title
	Lead     []string // the summary on top
	Cautions []string
	Links    []Link // to other pages in the same folder
	Sections []Section
	Script   string // one more script of the program's own, behind the common one
}

// Link is a link to another file in the same folder.
type Link struct{ Href, Text, Note string }

// Section is one part of a page; what it does not have is left out. Grids of
// one section are linked: they have the same places.
type Section struct {
	Heading string
	Text    []string
	Words   string // text in lines of its own, as on a terminal
	Facts   []Fact
	Grids   []Grid
	Charts  []Chart
	Told    bool // a line in which a script tells values, for a picture without grids
	Rows    *Rows
}

// Fact is a name and a value.
type Fact struct{ Name, Value string }

// Grid is a table of numbers with real headings.
type Grid struct {
	Name, Unit   string
	XName, YName string   // such as "engine speed [r/min]"; "" where there is no axis
	X, Y         []string // headings
	Cells        [][]Cell
}

// Cell is one place of a grid. Class is empty or of [Sequential], [Diverging]
// and the words "changed", "thin" and "inferred", which are told by more than
// colour.
type Cell struct{ Text, Class, Note string }

// Rows is an ordinary table, whose first column heads its rows.
type Rows struct {
	Caption string
	Head    []string
	Numbers []int // columns that hold numbers
	Lines   [][]string
	More    string // said below, such as how many rows were left out
}

// Number reports whether a column holds numbers.
func (r *Rows) Number(column int) bool { return slices.Contains(r.Numbers, column) }

// Chart is a picture with its caption in words.
type Chart struct {
	SVG     template.HTML // made by this package only
	Caption string
}

type line struct {
	HasHead bool
	Head    string
	Cells   []Cell
}

// Lines, Corner and Region are what the template asks of a grid.

func (g Grid) Lines() []line {
	lines := make([]line, len(g.Cells))
	for i, cells := range g.Cells {
		lines[i].Cells = cells
		if g.Y != nil {
			lines[i].HasHead, lines[i].Head = true, g.Y[i]
		} else if g.X != nil {
			lines[i].HasHead, lines[i].Head = true, g.Unit
		}
	}
	return lines
}

func (g Grid) Corner() string {
	switch {
	case g.YName != "":
		return g.YName + " ↓ " + g.XName + " →"
	case g.XName != "":
		return g.XName + " →"
	}
	return ""
}

func (g Grid) Region() string { return g.Name + " table" }

var (
	//go:embed page.gohtml
	layout string
	//go:embed page.css
	style string
	//go:embed page.js
	script string

	tmpl = template.Must(template.New("page").Funcs(template.FuncMap{"prose": prose, "long": long}).Parse(layout))
)

// prose keeps a number and its per cent sign on one line.
func prose(s string) string { return strings.ReplaceAll(s, " %", "\u00a0%") }

// Write writes the page. It is the same bytes for the same page.
func Write(w io.Writer, p *Page) error {
	css := style + levelRules()
	js := script + p.Script
	var html strings.Builder
	err := tmpl.Execute(&html, struct {
		Page   *Page
		Policy template.HTML
		Style  template.CSS
		Script template.JS
	}{p, template.HTML(`<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src ` +
		digest(css) + `; script-src ` + digest(js) + `; base-uri 'none'; form-action 'none'">`), template.CSS(css), template.JS(js)})
	if err != nil {
		return err
	}
	_, err = steering.WriteString(w, html.String())
	return err
}

// steering shows what could make a page, or a terminal on which its source is
// printed, read otherwise than it is: marks that turn the direction of writing,
// and control characters but line ends and tabs.
var steering = func() *strings.Replacer {
	var pairs []string
	for r := range rune(0x2100) {
		if tables.Steers(r) && r != '\n' && r != '\t' {
			pairs = append(pairs, string(r), tables.Clean(string(r)))
		}
	}
	return strings.NewReplacer(pairs...)
}()

// digest is the source expression that allows exactly this inline text.
func digest(s string) string {
	sum := sha256.Sum256([]byte(s))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}

// Classes joins class words, leaving out empty ones.
func Classes(words ...string) string {
	return strings.Join(slices.DeleteFunc(words, func(w string) bool { return w == "" }), " ")
}
