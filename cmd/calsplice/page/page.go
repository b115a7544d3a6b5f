// Package page writes results as pages: one self-contained HTML file each,
// which fetches nothing, reads without scripts, by keyboard, in light and dark,
// on a phone and on paper.
//
// What it writes is a [view.View]: words first (what a customer understands),
// then parts with facts, grids, pictures and rows. The package knows how a page
// looks, and that nothing written by a user can steer a browser (html/template
// escapes it, and the page's own Content-Security-Policy forbids whatever it did
// not itself bring).
package page

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"html/template"
	"io"
	"slices"
	"strings"
	"sync"

	"github.com/rivo/uniseg"

	"calsplice/cmd/calsplice/view"
	"calsplice/merge/caution"
)

// corner is what stands over the headings of a grid's rows.
func corner(g view.Grid) string {
	switch {
	case g.YName != "":
		return g.YName + " ↓ " + g.XName + " →"
	case g.XName != "":
		return g.XName + " →"
	}
	return ""
}

var (
	//go:embed page.gohtml
	layout string
	//go:embed page.css
	style string
	//go:embed page.js
	script string
	//go:embed decide.js
	decideScript string
)

// tmpl is parsed when the first page is written: most runs write none.
var tmpl = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("page").Funcs(template.FuncMap{
		"prose": prose, "long": long, "class": class,
		"grid": sheetsOf, "sheets": sheets, "corner": corner, "draw": picture, "margin": margin, "group": groupOf, "legend": legend,
		"dec":     func(i int) int { return i - 1 },
		"onPages": func(m view.Medium) bool { return m != view.OnTerminals },
	}).Parse(layout))
})

// margin reports whether a part's facts are short enough for the left margin.
func margin(p view.Part) bool {
	for _, f := range p.Facts {
		if len(f.Name)+len(f.Value) > 44 {
			return false
		}
	}
	return len(p.Grids)+len(p.Charts) > 0 || p.Decide > 0
}

// group is how the grids of a part are set.
type group struct {
	Class string // three of few columns side by side, all columns of one width
	Axes  string // named once, since the corners of such grids have no room for them
	Wide  bool   // over the margin too
}

func groupOf(grids []view.Grid) group {
	const room, roomy = 74, 6 // characters in a row, and in a cell where two stand side by side
	shown, class := 0, "three"
	for _, g := range grids {
		if g.On == view.OnTerminals {
			continue
		}
		shown++
		widest := 0
		for _, line := range g.Lines {
			for _, c := range line[1:] {
				widest = max(widest, uniseg.StringWidth(c.Marked()))
			}
		}
		if (len(g.Numbers)-1)*(widest+1) > room {
			shown = 0
			break
		}
		if widest > roomy && len(g.Numbers) > 7 {
			class = "three roomy"
		}
	}
	g := grids[0]
	switch {
	case shown < 2:
		return group{Wide: len(g.Numbers) > 13}
	case g.YName == "":
		return group{class, "Columns: " + g.XName, true}
	}
	return group{class, "Columns: " + g.XName + ". Rows: " + g.YName, true}
}

// legend is a grid whose shades are to be explained.
func legend(g view.Grid) *view.Grid {
	if g.Legend == nil {
		return nil
	}
	if g.Name == "after" {
		g.Name = "before and after"
	}
	return &g
}

// prose keeps a number and its per cent sign on one line.
func prose(s string) string { return strings.ReplaceAll(s, " %", "\u00a0%") }

// Write writes a result as a page. It is the same bytes for the same result.
func Write(w io.Writer, v *view.View) error {
	v = view.Cleaned(v)
	css := style + levelRules()
	js := script
	if v.Decide != nil {
		data, err := json.Marshal(v.Decide) // which escapes what could end the script
		if err != nil {
			return err
		}
		js += strings.Replace(decideScript, "DECIDE", strings.ReplaceAll(string(data), "'", `\u0027`), 1)
	}
	for _, p := range v.Parts {
		if slices.ContainsFunc(p.Charts, func(c view.Chart) bool { return c.Trace != nil }) {
			js += traceScript
		}
	}
	if v.Standing {
		v.Cautions = slices.Concat(v.Cautions, caution.Standing)
	}
	var html strings.Builder
	err := tmpl().Execute(&html, struct {
		View   *view.View
		Policy template.HTML
		Style  template.CSS
		Script template.JS
	}{v, template.HTML(`<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src ` +
		digest(css) + `; script-src ` + digest(js) + `; base-uri 'none'; form-action 'none'">`), template.CSS(css), template.JS(js)})
	if err != nil {
		return err
	}
	_, err = io.WriteString(w, html.String())
	return err
}

// digest is the source expression that allows exactly this inline text.
func digest(s string) string {
	sum := sha256.Sum256([]byte(s))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}
