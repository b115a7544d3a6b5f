package conflictfile

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablefile"
	"calsplice/tables/tablejson"
)

// DecisionsFormat is what a file of decisions calls itself.
const DecisionsFormat = "calsplice.decisions/1"

// Decisions are how a person decided conflicts, on the page of resolve:
//
//	{"format": "calsplice.decisions/1", "merged": {"name": "van", "sha256": "…"},
//	 "decisions": [{"table": "spark.advance", "at": [3, 4], "take": "theirs"},
//	               {"table": "spark.advance", "at": [3, 5], "value": 14.5}]}
//
// Each stands for one conflict of the list, and names it as the list does. Not
// every conflict needs one: what has none stays listed.
type Decisions struct {
	Name, SHA256 string // of the merged document that was decided on
	file         string
	list         []decision
}

// decision is one of them. What was typed is kept as JSON until the conflict is
// known that it is for: only that says whether a number or a text is wanted.
type decision struct {
	of   merge.Conflict // its place
	take merge.Side
	raw  string // what was typed, in JSON
	path string
}

// ReadDecisions reads a file of decisions, or standard input where path is "-".
func ReadDecisions(path string, stdin io.Reader) (*Decisions, error) {
	data, err := tablefile.Any(path, stdin)
	if err != nil {
		return nil, err
	}
	return ParseDecisions(data, path)
}

// ParseDecisions reads decisions; name is what errors call the input.
func ParseDecisions(data []byte, name string) (*Decisions, error) {
	r, d := newReader(data, name), &Decisions{file: name}
	r.Parts([]tables.Part{r.FormatPart(DecisionsFormat),
		{Name: "merged", At: []tables.Part{{Name: "name", Text: &d.Name}, {Name: "sha256", Text: &d.SHA256}}},
		{Name: "decisions", Must: true, At: tablejson.Custom{
			Read: func() { r.Array(func(i int) { d.list = append(d.list, r.decision(i)) }) }}}}, nil)
	return d, r.Err()
}

func (r *reader) decision(i int) decision {
	d := decision{path: fmt.Sprintf("decisions[%d]", i)}
	start, take := r.Mark(), (*string)(&d.take)
	marks := r.Parts([]tables.Part{{Name: "take", Text: take}, {Name: "table", Text: &d.of.Table, Must: true}, r.at(&d.of),
		{Name: "in", Text: (*string)(&d.of.In)}, {Name: "value", At: tablejson.Custom{Read: func() { d.raw, _ = r.Raw() }}}}, nil)
	switch {
	case marks[0] > 0 && !slices.Contains(sides, d.take):
		r.Fault(marks[0], ".take", fmt.Sprintf("found %s, expected ours, theirs or base", tables.Quote(*take)))
	case (d.take == "") == (d.raw == ""):
		r.Fault(start, "", `expected one of "take" and "value"`)
	}
	return d
}

// Decide puts the decisions to a list of conflicts: the list with what was
// typed, and the side to take of each; "" leaves it. A decision of no conflict
// that is listed is refused, and so is a second one of the same.
func (d *Decisions) Decide(list []merge.Conflict) ([]merge.Conflict, func(merge.Conflict) merge.Side, error) {
	list = slices.Clone(list)
	at := map[string]int{}
	for i, c := range list {
		at[address(c)] = i
	}
	take := map[string]merge.Side{}
	var faults tables.Faults
	for _, e := range d.list {
		key := address(e.of)
		i, listed := at[key]
		what := ""
		switch _, twice := take[key]; {
		case !listed:
			what = "found no such conflict in the list: the decisions are of another merge, or it is resolved already"
		case twice:
			what = "found a second decision of the same conflict"
		case e.raw != "":
			if err := Type(&list[i], e.raw); err != nil {
				what = err.Error()
			}
			e.take = merge.Typed
		}
		if take[key] = e.take; what != "" {
			faults = append(faults, &tables.Fault{File: d.file, Path: e.path, What: e.of.Table + " " + e.of.At() + ": " + what})
		}
	}
	if len(faults) > 0 {
		return nil, nil, faults
	}
	return list, func(c merge.Conflict) merge.Side { return take[address(c)] }, nil
}

// address is what a decision knows a conflict by.
func address(c merge.Conflict) string {
	return c.Table + "\x00" + c.Name + "\x00" + c.At() + "\x00" + string(c.In)
}

// Type makes what a person typed, in JSON, the value of a conflict.
func Type(c *merge.Conflict, raw string) error {
	if !c.Types() {
		return errors.New("is not one value: take ours, theirs or base")
	}
	if raw == "null" {
		return errors.New("found null, expected a value")
	}
	typed, err := side(c, raw, false)
	if err == nil {
		c.Typed = &typed
	}
	return err
}

// TypeText is [Type] of what was typed as it is: JSON, or words where the field
// holds words.
func TypeText(c *merge.Conflict, typed string) error {
	err := Type(c, typed)
	if err != nil && c.Types() && !c.Cell() {
		if Type(c, string(strictjson.AppendText(nil, typed))) == nil {
			return nil
		}
	}
	return err
}
