package gitdriver

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/merge/conflictfile"
	"calsplice/tables"
)

// asker goes through conflicts, question by question, and keeps the answers.
// What is typed goes into the conflicts themselves.
type asker struct {
	doc   *tables.Calibration
	list  []merge.Conflict
	taken []merge.Side // of each conflict; "" is not answered
	in    *bufio.Scanner
	out   io.Writer
}

const answers = `  ours, theirs, base   take that side: o, t or b will do
  a value              instead of any side; of a curve a value for each cell, in order
  skip                 leave it for another time: s
  each                 ask for each cell of the curve
  all ANSWER           the same for everything that is still open
  block ANSWER         the same for the open cells that touch this one
  ?                    this help
`

// ask puts every question. The cells of a curve are one: they were mostly made as
// one change.
func (a *asker) ask() {
	a.taken = make([]merge.Side, len(a.list))
	// An answer may settle later questions as well ("all"), and one may fall apart into
	// single ones ("each"): so the list is looked at again each time.
	questions := a.questions()
	for n := 0; n < len(questions); n++ {
		q := slices.DeleteFunc(slices.Clone(questions[n]), func(i int) bool { return a.taken[i] != "" })
		if len(q) == 0 {
			continue
		}
		a.put(n+1, len(questions), q)
		for {
			fmt.Fprint(a.out, "take ours, theirs, base, a value, or skip (? for more)? ")
			if !a.in.Scan() {
				fmt.Fprintln(a.out)
				return
			}
			words := strings.Fields(a.in.Text())
			if len(words) == 1 && strings.EqualFold(words[0], "each") && len(q) > 1 {
				each := make([][]int, len(q))
				for k, i := range q {
					each[k] = []int{i}
				}
				questions = slices.Replace(questions, n, n+1, each...)
				n--
				break
			}
			wrong := a.answer(words, q)
			if wrong == "" {
				break
			}
			fmt.Fprintln(a.out, tables.Clean(wrong))
		}
	}
}

// questions are the conflicts that are asked about together.
func (a *asker) questions() (list [][]int) {
	last := ""
	for i, c := range a.list {
		t := a.doc.Table(c.Table)
		curve := ""
		if c.Cell() && t != nil && t.X() != nil && t.Y() == nil {
			curve = c.Table
		}
		// Conflicts come sorted by table, so that the cells of a curve stand together.
		if curve != "" && curve == last {
			list[len(list)-1] = append(list[len(list)-1], i)
		} else {
			list = append(list, []int{i})
		}
		last = curve
	}
	return list
}

// put prints a question.
func (a *asker) put(n, of int, q []int) {
	for k, i := range q {
		c := a.list[i]
		name := c.Place()
		if at := c.Where(a.doc.Table(c.Table)); at != "" {
			name += " at " + at
		}
		lead := fmt.Sprintf("%d of %d: ", n, of)
		if k > 0 {
			lead = strings.Repeat(" ", len(lead))
		}
		fmt.Fprintf(a.out, "%s%s: base %s, ours %s, theirs %s\n", lead, tables.Clean(name),
			tables.Clean(c.SideText(merge.Original)), tables.Clean(c.SideText(merge.Ours)), tables.Clean(c.SideText(merge.Theirs)))
	}
}

// answer takes one answer for the conflicts of a question, and says what is
// wrong with it; "" where it is understood.
func (a *asker) answer(words []string, q []int) (wrong string) {
	if len(words) == 0 {
		return "found no answer, expected a side, a value or skip"
	}
	switch strings.ToLower(words[0]) {
	case "?", "help":
		return strings.TrimSuffix(answers, "\n")
	case "all", "block":
		if len(words) != 2 {
			return fmt.Sprintf("found %s, expected a side or a value behind %s", tables.Quote(strings.Join(words, " ")), words[0])
		}
		q = a.reach(strings.EqualFold(words[0], "all"), q)
		words = words[1:]
	}
	if len(words) == 1 {
		side, known := map[string]merge.Side{"o": merge.Ours, "ours": merge.Ours, "t": merge.Theirs, "theirs": merge.Theirs, "b": merge.Original, "base": merge.Original,
			"s": "", "skip": ""}[strings.ToLower(words[0])]
		if known {
			for _, i := range q {
				a.taken[i] = side
			}
			return ""
		}
	}
	return a.typed(words, q)
}

// reach are the open conflicts that all or block stands for.
func (a *asker) reach(all bool, q []int) []int {
	list := slices.Clone(q)
	// A block is what touches a cell, and what touches that, corner to corner.
	for grown := true; grown; {
		grown = false
		for i, c := range a.list {
			if a.taken[i] != "" || slices.Contains(list, i) {
				continue
			}
			touches := slices.ContainsFunc(list, func(k int) bool {
				o := a.list[k]
				return c.Cell() && o.Cell() && c.Table == o.Table && c.In == o.In && near(c.Row, o.Row) && near(c.Column, o.Column)
			})
			if all || touches {
				list, grown = append(list, i), true
			}
		}
	}
	return list
}

func near(a, b int) bool { return a-b <= 1 && b-a <= 1 }

// typed takes what was typed: one value for all of a question's conflicts, or one
// for each.
func (a *asker) typed(words []string, q []int) (wrong string) {
	if len(q) == 1 && !a.list[q[0]].Cell() {
		words = []string{strings.Join(words, " ")} // a title, say
	}
	if len(words) != 1 && len(words) != len(q) {
		return fmt.Sprintf("found %s, expected one, or %d", tables.Plural(len(words), "value"), len(q))
	}
	next := slices.Clone(a.list)
	for k, i := range q {
		value := words[min(k, len(words)-1)]
		if err := conflictfile.TypeText(&next[i], value); err != nil {
			return fmt.Sprintf("found %s, which is no side and no value here (%v)", tables.Quote(value), err)
		}
		// Tried on the document at once, so that a value beyond the limits is refused
		// while the person is still asked.
		if _, _, _, err := merge.ResolveEach(a.doc, next[i:i+1], func(merge.Conflict) merge.Side { return merge.Typed }); err != nil {
			return err.Error()
		}
	}
	copy(a.list, next)
	for _, i := range q {
		a.taken[i] = merge.Typed
	}
	return ""
}
