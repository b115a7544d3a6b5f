package changefile

import (
	"io"
	"slices"
	"strconv"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/strictcsv"
	"calsplice/tables/tablecsv"
)

// WriteCSV writes a change set as CSV: what belongs to the whole set in lines
// under keywords, a blank line, the headings, a row for each edit, and the line
// end.
func WriteCSV(w io.Writer, cs *merge.ChangeSet) error {
	s, err := newList(cs)
	if err != nil {
		return err
	}
	l := strictcsv.NewWriter(w)
	line := func(name string, words ...string) {
		l.Name(name)
		for _, word := range words {
			l.Word(word)
		}
	}
	line("calsplice", "1", "changes")
	if s.Title != "" {
		line("title", s.Title)
	}
	if s.MadeBy != "" {
		line("made_by", s.MadeBy)
	}
	if s.Base != (merge.Base{}) {
		line("base", s.Base.Name, s.Base.SHA256)
	}
	for _, c := range s.Cautions {
		line("caution", c)
	}
	if s.LeftOut > 0 {
		line("left_out", strconv.Itoa(s.LeftOut))
	}
	for i := range s.Frames {
		l.Name("frame")
		l.JSON(string(appendFrame(nil, &s.Frames[i])))
	}
	sheet.WriteKept(l, "", s.Extra)
	l.Blank()
	line(headings[0], headings[1:]...)
	for _, r := range s.rows {
		writeRow(l, r)
	}
	l.Blank()
	line("end")
	return l.Close()
}

// writeRow writes one row of the list. What is not of the row's kind stays empty,
// so that everything stands under its heading.
func writeRow(l *strictcsv.Writer, r row) {
	l.Name(r.Edit)
	l.Word(r.Table)
	if r.Edit == rowCell {
		l.Number(float64(r.Row))
		l.Number(float64(r.Column))
	} else {
		l.Word("")
		l.Word("")
	}
	for _, text := range []string{r.Place, r.Field, r.With, r.After} {
		l.Word(text)
	}
	for _, text := range []string{r.From, r.To} {
		if r.isText() {
			l.Text(text)
		} else {
			l.JSON(text)
		}
	}
	if r.Why == nil {
		for range evidenceParts(&merge.Evidence{}) {
			l.Word("")
		}
		return
	}
	sheet.WriteParts(l, evidenceParts(r.Why))
}

// ParseCSV reads a change set from CSV; name is what errors call the input. A
// caution says where the last line "end" is missing.
func ParseCSV(data []byte, name string) (*merge.ChangeSet, tables.Faults, error) {
	csv, kind, err := strictcsv.Begin(data, name, "changes")
	if err != nil {
		return nil, nil, err
	}
	r := newListReader(name)
	if kind.Text != "changes" {
		r.Fault(kind, "found %s, want changes", tables.Quote(kind.Text))
		return nil, nil, r.Err()
	}
	numbers := strictcsv.Numbers{Comma: csv.Comma()}
	r.Parse, r.Words = numbers.Parse, strictcsv.Unsafe
	ended := false
	var cells sheet.Row
	for !r.Full() {
		if cells, err = csv.Next(cells); err == io.EOF {
			break
		} else if err != nil {
			return nil, nil, err
		}
		switch {
		case cells.Width() == 0:
		case ended:
			r.Fault(cells[0], `more follows after the line "end"`)
			return nil, nil, r.Err()
		case cells.Width() == 1 && cells[0].Text == "end":
			ended = true
		default:
			r.read(cells)
		}
	}
	cs, err := r.end()
	if first, doubt := numbers.Doubt(); doubt != nil {
		r.Check(first, doubt)
		return nil, nil, r.Err()
	}
	var cautions tables.Faults
	if err == nil && !ended {
		cautions = tables.Faults{tablecsv.Cut(name)}
	}
	return cs, cautions, err
}

// isText reports whether from and to are a person's text, or ids, rather than
// a number or JSON.
func (r row) isText() bool {
	return r.Edit == rowOrder || r.Edit != rowCell && slices.Contains(plainFields, r.Field)
}
