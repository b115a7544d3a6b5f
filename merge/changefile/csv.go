package changefile

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/strictcsv"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablecsv"
)

// WriteCSV writes the CSV spelling: what belongs to the whole set in lines
// under keywords, a blank line, the headings, a row an edit, and the line end.
func WriteCSV(w io.Writer, cs *merge.ChangeSet) error {
	s, err := NewSheet(cs)
	if err != nil {
		return err
	}
	b := []byte("calsplice,1,changes\n")
	line := func(key string, texts ...string) {
		b = strictcsv.AppendField(b, key)
		for _, t := range texts {
			b = strictcsv.AppendText(append(b, ','), t)
		}
		b = append(b, '\n')
	}
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
	json := func(key, value string) {
		b = append(strictcsv.AppendField(append(strictcsv.AppendField(b, key), ','), value), '\n')
	}
	for i := range s.Frames {
		json("frame", string(appendFrame(nil, &s.Frames[i])))
	}
	for _, k := range s.Extra {
		json(k.Key, k.Value)
	}
	b = append(b, '\n')
	line(Columns[0], Columns[1:]...)
	for _, r := range s.Rows {
		b = appendRow(b, r)
		if len(b) >= 1<<16 {
			if _, err := w.Write(b); err != nil {
				return err
			}
			b = b[:0]
		}
	}
	_, err = w.Write(append(b, "\nend\n"...))
	return err
}

func appendRow(b []byte, r Row) []byte {
	b = strictcsv.AppendText(append(append(b, r.Edit...), ','), r.Table)
	if b = append(b, ','); r.Edit == EditCell {
		b = strconv.AppendInt(b, int64(r.Row), 10)
		b = strconv.AppendInt(append(b, ','), int64(r.Column), 10)
	} else {
		b = append(b, ',')
	}
	for _, text := range []string{r.Place, r.Field, r.With, r.After} {
		b = strictcsv.AppendText(append(b, ','), text)
	}
	for _, text := range []string{r.From, r.To} {
		b = append(b, ',')
		if r.isText() {
			b = strictcsv.AppendText(b, text)
		} else {
			b = strictcsv.AppendField(b, text)
		}
	}
	why := evidenceCells(r.Why)
	for _, number := range why[:5] {
		b = append(append(b, ','), number...)
	}
	for _, text := range why[5:] {
		b = strictcsv.AppendText(append(b, ','), text)
	}
	return append(b, '\n')
}

// isText reports whether from and to are a person's text, or ids, rather than
// a number or JSON.
func (r Row) isText() bool {
	return r.Edit == EditOrder || r.Edit != EditCell && slices.Contains(plainFields, r.Field)
}

// ParseCSV reads the CSV spelling; name is what errors call the input. A caution
// says where the last line "end" is missing.
func ParseCSV(data []byte, name string) (*merge.ChangeSet, []string, error) {
	data, err := strictcsv.Text(data, name)
	if err != nil {
		return nil, nil, err
	}
	comma, ok := tablecsv.Delimiter(data)
	if !ok {
		return nil, nil, &tables.Fault{File: name, Line: 1, Column: 1, What: "this is no change set, want calsplice,1,changes"}
	}
	r := &csvReader{csv: strictcsv.New(data, name, comma), num: strictcsv.Numbers{Comma: comma}, file: name, sheet: &Sheet{}}
	if err := r.read(); err != nil {
		return nil, nil, err
	}
	cs := r.sheet.ChangeSet(r.num.Parse, func(i int, heading, what string) { r.fault(r.field(r.rows[i], heading), what) })
	r.doubt()
	slices.SortStableFunc(r.faults, func(a, b *tables.Fault) int { return cmp.Or(a.Line-b.Line, a.Column-b.Column) })
	if err := r.faults.Err(); err != nil {
		return nil, nil, err
	}
	var cautions []string
	if !r.ended {
		cautions = append(cautions, tables.Clean(name)+`: the last line "end" is missing: the file may have been cut`)
	}
	return cs, cautions, nil
}

type csvReader struct {
	csv     *strictcsv.Reader
	num     strictcsv.Numbers
	file    string
	faults  tables.Faults
	sheet   *Sheet
	columns map[string]int // heading to field; nil before the headings
	rows    [][]strictcsv.Field
	ended   bool
}

func (r *csvReader) fault(at strictcsv.Field, what string) {
	if len(r.faults) < strictjson.MaxFaults {
		r.faults = append(r.faults, &tables.Fault{File: r.file, Line: at.Line, Column: at.Column, What: what})
	}
}

// doubt refuses numbers that may have decimal marks or thousands separators, at
// the first of them.
func (r *csvReader) doubt() {
	number, err := r.num.Doubt()
	if err == nil {
		return
	}
	at := strictcsv.Field{Line: 1, Column: 1}
	for _, row := range slices.Backward(r.rows) {
		if i := slices.IndexFunc(row, func(f strictcsv.Field) bool { return strings.TrimSpace(f.Text) == number }); i >= 0 {
			at = row[i]
		}
	}
	r.fault(at, err.Error())
}

// read takes in every line. The error is for what ends reading; other faults
// are kept, so that the rows' own can be told beside them.
func (r *csvReader) read() error {
	for first := true; ; first = false {
		record, err := r.csv.Next(nil)
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		trimmed := strictcsv.Trim(record)
		switch {
		case first:
			if len(trimmed) < 3 || trimmed[1].Text != "1" || trimmed[2].Text != "changes" {
				r.fault(record[0], "this is no change set of version 1, want calsplice,1,changes")
				return r.faults.Err()
			}
		case len(trimmed) == 0:
		case r.ended:
			r.fault(record[0], `more follows after the line "end"`)
			return r.faults.Err()
		case trimmed[0].Text == "end" && len(trimmed) == 1:
			r.ended = true
		case r.columns != nil:
			r.row(record)
		case trimmed[0].Text == "edit":
			r.headings(trimmed)
		default:
			r.word(trimmed)
		}
	}
	if r.columns == nil {
		r.fault(strictcsv.Field{Line: 1, Column: 1}, "has no line of headings, want "+strings.Join(Columns, ","))
	}
	var err error
	if r.sheet.Extra, err = tables.NewExtra(r.sheet.Extra); err != nil {
		r.fault(strictcsv.Field{Line: 1, Column: 1}, err.Error())
	}
	return nil
}

// word reads a line that belongs to the whole set.
func (r *csvReader) word(record []strictcsv.Field) {
	at, most := record[0], 2
	if at.Text == "base" {
		most = 3
	}
	if len(record) > most {
		r.fault(record[most], fmt.Sprintf("%s has too many fields (text that holds the delimiter wants quotes)", tables.Clean(at.Text)))
		return
	}
	for len(record) < 3 {
		record = append(record, strictcsv.Field{Line: at.Line, Column: at.Column})
	}
	text := record[1].Text
	if at.Text != "frame" && !strings.HasPrefix(at.Text, "x-") {
		text = strictcsv.Unsafe(text)
	}
	problem := r.sheet.word(at.Text, text)
	switch {
	case problem == unknownWord || at.Text == "base sha256":
		r.fault(at, "unknown keyword "+tables.Quote(at.Text))
	case problem != "":
		r.fault(record[1], problem)
	case most == 3:
		r.sheet.word("base sha256", strictcsv.Unsafe(record[2].Text))
	}
}

func (r *csvReader) headings(record []strictcsv.Field) {
	r.columns = map[string]int{}
	for i, f := range record {
		if _, twice := r.columns[f.Text]; twice || !slices.Contains(Columns, f.Text) {
			r.fault(f, fmt.Sprintf("heading %s is not known or stands twice, want %s", tables.Quote(f.Text), strings.Join(Columns, ",")))
		}
		r.columns[f.Text] = i
	}
	var missing []string
	for _, need := range []string{"table", "row", "column", "field", "after", "from", "to"} {
		if _, ok := r.columns[need]; !ok {
			missing = append(missing, need)
		}
	}
	if len(missing) > 0 {
		r.fault(record[0], "has no heading "+strings.Join(missing, ", "))
	}
}

// field is the field of a row under a heading; an empty one where there is none.
func (r *csvReader) field(record []strictcsv.Field, heading string) strictcsv.Field {
	if i, ok := r.columns[heading]; ok && i < len(record) {
		return record[i]
	}
	return strictcsv.Field{Line: record[0].Line, Column: record[0].Column}
}

func (r *csvReader) row(record []strictcsv.Field) {
	for _, f := range record[min(len(record), len(r.columns)):] {
		if f.Text != "" {
			r.fault(f, "stands past the last heading (text that holds the delimiter wants quotes)")
			return
		}
	}
	text := func(heading string, words bool) string {
		s := r.field(record, heading).Text
		if words {
			s = strictcsv.Unsafe(s)
		}
		return s
	}
	r.sheet.Rows = append(r.sheet.Rows, readRow(text, r.num.Parse, func(heading, what string) { r.fault(r.field(record, heading), what) }))
	r.rows = append(r.rows, record)
}
