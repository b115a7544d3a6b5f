package merge_test

import (
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/tabletest"
)

var update = flag.Bool("update", false, "write what is found into testdata")

// A sketch is a table in one line: its unit, resolution and limits; each axis with
// quantity, unit and breakpoints; its values, a row between semicolons.
//
//	deg 0.1 0..60 | load % 10 20 30 | - | 1 2 3
//
// "-" is no resolution, no limits, no axis, and no unit.
func readSketch(line string) *tables.Table {
	parts := strings.Split(line, " | ")
	head := strings.Fields(parts[0])
	none := func(s string) string { return strings.TrimPrefix(s, "-") }
	number := func(s string) float64 {
		if s == "?" {
			return math.NaN()
		}
		return tabletest.Must(strconv.ParseFloat(s, 64))
	}
	f := tables.Fields{ID: "t", Unit: none(head[0])}
	if head[1] != "-" {
		f.Resolution = number(head[1])
	}
	if low, high, ok := strings.Cut(head[2], ".."); ok {
		f.Limits = &tables.Limits{Low: number(low), High: number(high)}
	}
	axis := func(s string) *tables.Axis {
		if s == "-" {
			return nil
		}
		words := strings.Fields(s)
		var points []float64
		for _, w := range words[2:] {
			points = append(points, number(w))
		}
		return tabletest.Must(tables.NewAxis(words[0], none(words[1]), points))
	}
	f.X, f.Y = axis(parts[1]), axis(parts[2])
	for _, w := range strings.Fields(strings.ReplaceAll(parts[3], ";", " ")) {
		f.Values = append(f.Values, number(w))
	}
	return tabletest.Must(tables.NewTable(f))
}

func sketchOf(t *tables.Table) string {
	dash := func(s string) string {
		if s == "" {
			return "-"
		}
		return s
	}
	number := func(v float64) string {
		if math.IsNaN(v) {
			return "?"
		}
		return tables.FormatValue(v)
	}
	limits, resolution := "-", "-"
	if l := t.Limits(); l != nil {
		limits = number(l.Low) + ".." + number(l.High)
	}
	if t.Resolution() > 0 {
		resolution = number(t.Resolution())
	}
	parts := []string{dash(t.Unit()) + " " + resolution + " " + limits}
	for _, a := range []*tables.Axis{t.X(), t.Y()} {
		s := "-"
		if a != nil {
			s = a.Quantity() + " " + dash(a.Unit())
			for _, p := range a.Points() {
				s += " " + number(p)
			}
		}
		parts = append(parts, s)
	}
	values := ""
	for i, v := range t.Values() {
		if i > 0 && i%t.Columns() == 0 {
			values += ";"
		}
		values += " " + number(v)
	}
	return strings.Join(parts, " | ") + " |" + values
}

// alone is a document of averages, in which cells may be empty, of one table.
func alone(t *tables.Table) *tables.Calibration {
	return tabletest.Must(tables.NewCalibration(tables.Contents{Kind: tables.Cells, Tables: []*tables.Table{t}}))
}

// comparedWords is what a person is told of the difference of two tables.
func comparedWords(was, is *tables.Table) (lines []string) {
	r := merge.Compare(alone(was), alone(is), merge.Tolerance{}, merge.Selection{})
	add := func(what string, v any) {
		text := tabletest.Must(json.Marshal(v))
		if s := string(text); s != "null" && s != "[]" && s != `""` {
			lines = append(lines, what+" "+s)
		}
	}
	for _, t := range r.Tables {
		add("finding", t.Finding)
		add("fields", t.Fields)
		add("axes", t.Axes)
		if t.Surface != nil {
			add("surface", t.Surface)
		}
		add("said", t.Notes)
		lines = append(lines, fmt.Sprintf("of %d cells %d changed; alone %v", t.Of, t.Changed, t.Rest))
	}
	for _, b := range r.Blocks {
		lines = append(lines, b.Place()+" "+b.Rule(""))
	}
	for _, c := range r.Cells {
		c.Table = ""
		add("cell", c)
	}
	if r.Hidden > 0 {
		lines = append(lines, fmt.Sprint(r.Hidden, " hidden"))
	}
	return lines
}

// mergedWords is what becomes of three tables: the merged one, what is said, and
// each conflict, with what it leaves for either side.
func mergedWords(base, ours, theirs *tables.Table, opt merge.MergeOptions) (lines []string) {
	m, err := merge.Merge(alone(base), alone(ours), alone(theirs), opt)
	if err != nil {
		return []string{err.Error()}
	}
	lines = append(lines, sketchOf(m.Merged.Table("t")))
	for _, s := range append(m.Notes, m.SideEffects...) {
		lines = append(lines, "said "+s)
	}
	for _, c := range m.Conflicts {
		w := "conflict at " + c.At()
		if c.Cell() {
			w += " " + string(c.In) + " " + c.Where(m.Merged.Table("t")) + " " + c.Gone
		}
		for _, s := range []merge.Side{merge.Original, merge.Ours, merge.Theirs} {
			w += fmt.Sprintf(", %s %s", s, c.SideText(s))
		}
		lines = append(lines, w)
	}
	if m.Hidden+m.Carried > 0 {
		lines = append(lines, fmt.Sprintf("%d hidden, %d carried", m.Hidden, m.Carried))
	}
	if len(m.Conflicts) == 0 {
		return lines
	}
	for _, take := range []merge.Side{merge.Original, merge.Ours, merge.Theirs} {
		doc, left, said, err := merge.Resolve(m.Merged, m.Conflicts, take, merge.Selection{})
		if err != nil {
			lines = append(lines, strings.Split(string(take)+": "+err.Error(), "\n")...)
			continue
		}
		lines = append(lines, fmt.Sprintf("%s: %s, %d left", take, sketchOf(doc.Table("t")), len(left)))
		for _, s := range said {
			lines = append(lines, "said "+s)
		}
	}
	return lines
}

// TestRecordedTables holds what is told of two tables, and what a merge makes of
// three, to what a person read and found right. Each case stands for guards and
// bounds that no other test notices. Lines two blanks in are what is found.
func TestRecordedTables(t *testing.T) {
	name := filepath.Join("testdata", "recorded.txt")
	text := string(tabletest.Must(os.ReadFile(name)))
	var out strings.Builder
	for _, part := range strings.Split(strings.TrimSpace(text), "\n\n") {
		var asked, want []string
		for _, line := range strings.Split(part, "\n") {
			if strings.HasPrefix(line, "  ") {
				want = append(want, line[2:])
			} else {
				fmt.Fprintln(&out, line)
				if !strings.HasPrefix(line, "#") {
					asked = append(asked, line)
				}
			}
		}
		if len(asked) > 0 {
			got := recordedWords(asked)
			if strings.Join(got, "\n") != strings.Join(want, "\n") && !*update {
				t.Errorf("%s:\nfound\n%s\nwant\n%s", strings.Join(asked, "\n"), strings.Join(got, "\n"), strings.Join(want, "\n"))
			}
			for _, line := range got {
				fmt.Fprintln(&out, "  "+line)
			}
		}
		fmt.Fprintln(&out)
	}
	if *update {
		if err := os.WriteFile(name, []byte(strings.TrimSpace(out.String())+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// recordedWords of two tables are what differs, of three what a merge makes.
func recordedWords(asked []string) []string {
	var list []*tables.Table
	for _, line := range asked {
		list = append(list, readSketch(line))
	}
	if len(list) == 2 {
		return comparedWords(list[0], list[1])
	}
	return mergedWords(list[0], list[1], list[2], merge.MergeOptions{})
}
