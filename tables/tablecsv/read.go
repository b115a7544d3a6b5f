package tablecsv

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"calsplice/tables"
	"calsplice/tables/strictcsv"
	"calsplice/tables/strictjson"
)

// Read reads a document. Its errors are [tables.Faults] with line and column;
// name is what they call the input. Cautions are dropped: see [Parse].
func Read(r io.Reader, name string) (*tables.Calibration, error) {
	data, err := strictjson.ReadAll(r, name)
	if err != nil {
		return nil, err
	}
	c, _, err := Parse(data, name)
	return c, err
}

// Parse reads a document from memory, and returns what a person should hear of
// although it is no fault, a line each.
func Parse(data []byte, name string) (c *tables.Calibration, cautions []string, err error) {
	data, err = strictcsv.Text(data, name)
	if err != nil {
		return nil, nil, err
	}
	r := &reader{file: name, seen: map[string]bool{}, ids: map[string]int{}}
	if !r.header(data) {
		return nil, nil, r.faults.Err()
	}
	r.read()
	if err := r.faults.Err(); err != nil {
		return nil, nil, err
	}
	c, err = tables.NewCalibration(r.c)
	if err != nil {
		return nil, nil, tables.In(name, 1, 0, "", err)
	}
	if !r.ended {
		cautions = append(cautions, tables.Clean(name)+`: the last line "end" is missing: the file may have been cut`)
	}
	return c, cautions, nil
}

// reader gathers one document.
type reader struct {
	csv    *strictcsv.Reader
	num    strictcsv.Numbers
	doubt  strictcsv.Field // the number that num is in doubt about
	file   string
	faults tables.Faults
	done   bool
	ended  bool // the line "end" was met
	c      tables.Contents
	engine tables.Engine
	extra  []tables.ExtraKey // of the document
	seen   map[string]bool   // keywords and facts that may stand once
	ids    map[string]int    // a table's id to the line it began on
	cells  int
	table  *tableReader // the table that is being read; nil between them
}

const maxFaults = strictjson.MaxFaults

func (r *reader) fault(at strictcsv.Field, what string) {
	if r.done {
		return
	}
	f := &tables.Fault{File: r.file, Line: at.Line, Column: at.Column, What: what}
	if r.table != nil && r.table.f.ID != "" {
		f.Path = "table " + r.table.f.ID
	}
	r.faults = append(r.faults, f)
	if len(r.faults) == maxFaults {
		r.faults = append(r.faults, &tables.Fault{File: r.file, What: fmt.Sprintf("%d faults; reading ends here", maxFaults)})
		r.done = true
	}
}

func (r *reader) check(at strictcsv.Field, err error) {
	if err != nil {
		r.fault(at, err.Error())
	}
}

// header tells the delimiter and the kind of document from the first line.
func (r *reader) header(data []byte) bool {
	comma, ok := Delimiter(data)
	if !ok {
		first, _, _ := bytes.Cut(data, []byte("\n"))
		what := fmt.Sprintf("found %s, want calsplice,1,calibration", tables.Quote(string(bytes.TrimSpace(first))))
		if strings.HasPrefix(string(first), "table,y,x,value") {
			what = "this is the long form, which carries no units and is not read back"
		}
		r.fault(strictcsv.Field{Line: 1, Column: 1}, what)
		return false
	}
	r.csv, r.num.Comma = strictcsv.New(data, r.file, comma), comma
	record, err := r.csv.Next(nil)
	if err != nil {
		r.faults = append(r.faults, err.(*tables.Fault))
		return false
	}
	record = strictcsv.Trim(record)
	for len(record) < 3 {
		record = append(record, strictcsv.Field{Line: 1, Column: 1})
	}
	if v, _ := strconv.Atoi(record[1].Text); v != 1 {
		r.fault(record[1], fmt.Sprintf("version is %s: this program reads version 1", tables.Quote(record[1].Text)))
		return false
	}
	switch kind := record[2]; kind.Text {
	case "calibration":
		r.c.Kind = tables.Calibrated
	case "cells":
		r.c.Kind = tables.Cells
	case "changes":
		r.fault(kind, "this is a change set, want a calibration or cells")
		return false
	default:
		r.fault(kind, fmt.Sprintf("found %s, want calibration or cells", tables.Quote(kind.Text)))
		return false
	}
	return true
}

// Delimiter is the character behind the word with which every document begins,
// and whether the text begins with it at all.
func Delimiter(data []byte) (byte, bool) {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	for _, word := range []string{"calsplice", `"calsplice"`} {
		if rest, ok := bytes.CutPrefix(data, []byte(word)); ok && len(rest) > 0 && strings.IndexByte(",;\t", rest[0]) >= 0 {
			return rest[0], true
		}
	}
	return 0, false
}

func (r *reader) read() {
	var record []strictcsv.Field
	for !r.done {
		var err error
		if record, err = r.csv.Next(record); err == io.EOF {
			break
		} else if err != nil {
			r.faults = append(r.faults, err.(*tables.Fault))
			return
		}
		r.record(record)
	}
	r.finishTable()
	if _, err := r.num.Doubt(); !r.done {
		r.check(r.doubt, err)
	}
	r.c.Engine = &r.engine
	var err error
	if r.c.Extra, err = tables.NewExtra(r.extra); err != nil {
		r.fault(strictcsv.Field{Line: 1}, err.Error())
	}
	tables.SortKeys(r.c.State)
}

// record takes in one line.
func (r *reader) record(record []strictcsv.Field) {
	trimmed := strictcsv.Trim(record)
	t := r.table
	switch {
	case len(trimmed) > 0 && strings.HasPrefix(trimmed[0].Text, "#"):
	case len(trimmed) == 0 && t != nil && t.wantsCurve() && len(record) > 1:
		r.row(record) // a curve whose cells are all empty
	case len(trimmed) == 0:
		r.finishTable()
	case r.ended:
		r.fault(record[0], `more follows after the line "end"`)
		r.done = true
	case t != nil && t.x != nil && !keyword(record[0].Text):
		if !t.header {
			r.points(trimmed)
		} else {
			r.row(record)
		}
	default:
		r.keyword(trimmed)
	}
}

var documentWords = []string{"name", "notes", "engine", "source", "state", "table", "end"}
var tableWords = append(slices.DeleteFunc(tables.TableFields.Names(), func(name string) bool { return name == "values" }), "value")

func keyword(s string) bool {
	return slices.Contains(documentWords, s) || slices.Contains(tableWords, s) || strings.HasPrefix(s, "x-")
}

// keyword takes in a line that begins with a word.
func (r *reader) keyword(record []strictcsv.Field) {
	word := record[0]
	switch {
	case word.Text == "table":
		r.finishTable()
		r.startTable(record)
	case word.Text == "end":
		r.finishTable()
		r.ended = true
	case r.table != nil && (slices.Contains(tableWords, word.Text) || strings.HasPrefix(word.Text, "x-")):
		r.tableWord(record)
	case r.table != nil && slices.Contains(documentWords, word.Text):
		r.fault(word, fmt.Sprintf("%s belongs to the document, before its first table", word.Text))
	case r.table != nil:
		r.fault(word, unknownWord(word.Text, tableWords))
	case len(r.ids) > 0:
		r.fault(word, fmt.Sprintf("found %s, want a line that begins with table or end", tables.Quote(word.Text)))
	default:
		r.documentWord(record)
	}
}

func unknownWord(s string, known []string) string {
	for _, k := range known {
		if strings.EqualFold(k, s) {
			return fmt.Sprintf("unknown keyword %s, want %s", tables.Quote(s), k)
		}
	}
	return "unknown keyword " + tables.Quote(s)
}

func (r *reader) documentWord(record []strictcsv.Field) {
	word := record[0].Text
	switch {
	case word == "name" || word == "notes":
		f, _ := tables.DocumentFields.Find(word)
		r.once(record[0], word, r.seen)
		readField(r, f, &r.c, record)
	case word == "engine":
		r.engineFact(record)
	case strings.HasPrefix(word, "x-"):
		r.extra = r.kept(r.extra, record, "", r.seen)
	case word == "source" && r.c.Kind == tables.Cells:
		r.source(record)
	case word == "state" && r.c.Kind == tables.Cells:
		if record, ok := r.want(record, 2, 2); ok {
			record[1].Text = strictcsv.Unsafe(record[1].Text)
			r.c.State = r.kept(r.c.State, record[1:], "state ", r.seen)
		}
	case word == "source" || word == "state":
		r.fault(record[0], tables.OnlyCells(word))
	case slices.Contains(tableWords, word):
		r.fault(record[0], word+" belongs to a table, and no line table stands before it")
	default:
		r.fault(record[0], unknownWord(word, append(documentWords, tableWords...)))
	}
}

// once refuses a keyword that stands twice.
func (r *reader) once(at strictcsv.Field, key string, seen map[string]bool) bool {
	twice := seen[key]
	if twice {
		r.fault(at, fmt.Sprintf("%s stands twice", tables.Clean(key)))
	}
	seen[key] = true
	return !twice
}

// want refuses a line that has not as many fields behind its keyword as it
// should, and pads it so that the caller can go on.
func (r *reader) want(record []strictcsv.Field, least, most int) (_ []strictcsv.Field, ok bool) {
	n := len(record) - 1
	ok = n >= least && n <= most
	switch {
	case n > most:
		r.fault(record[most+1], fmt.Sprintf("%s has %s, want %d (text that holds the delimiter wants quotes)",
			tables.Clean(record[0].Text), tables.Count(n, "field"), most))
	case n < least:
		r.fault(record[0], fmt.Sprintf("%s has %s, want %d", tables.Clean(record[0].Text), tables.Count(n, "field"), least))
	}
	for len(record) < most+1 {
		record = append(record, strictcsv.Field{Line: record[0].Line, Column: record[0].Column})
	}
	return record, ok
}

func (r *reader) text(record []strictcsv.Field) string {
	record, _ = r.want(record, 0, 1)
	return strictcsv.Unsafe(record[1].Text)
}

func (r *reader) number(at strictcsv.Field) (float64, bool) {
	v, err := r.num.Parse(at.Text)
	r.check(at, err)
	if number, _ := r.num.Doubt(); number != "" && r.doubt.Line == 0 {
		r.doubt = at
	}
	return v, err == nil
}

// kept reads a key and its JSON; what is the word that the key follows.
func (r *reader) kept(list []tables.ExtraKey, record []strictcsv.Field, what string, seen map[string]bool) []tables.ExtraKey {
	key := record[0]
	once := r.once(key, what+key.Text, seen)
	if record, ok := r.want(record, 1, 1); ok {
		if value, ok := r.json(record[1]); ok && once {
			list = append(list, tables.ExtraKey{Key: key.Text, Value: value})
		}
	}
	return list
}

func (r *reader) json(at strictcsv.Field) (string, bool) {
	j := strictjson.New([]byte(at.Text), r.file)
	v, ok := j.Raw()
	if err := j.Err(); err != nil {
		ok = false
		if fs, is := err.(tables.Faults); is {
			r.fault(at, fmt.Sprintf("%s is not JSON: %s", tables.Quote(at.Text), fs[0].What))
		}
	}
	return v, ok
}
