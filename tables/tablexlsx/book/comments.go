package book

import (
	"encoding/xml"
	"path"
	"slices"
	"strconv"
	"strings"

	"calsplice/tables/sheet"
)

// Comment is a note that a person hung onto a cell.
type Comment struct {
	Cell sheet.Cell
	Text string
}

// Comments are the notes on a sheet's cells that calsplice did not write.
func (s *Sheet) Comments() (list []Comment, err error) {
	rels := path.Join(path.Dir(s.part), "_rels", path.Base(s.part)+".rels")
	part := ""
	if _, err := s.book.each(rels, func(e xml.StartElement) error {
		if strings.HasSuffix(attr(e, "Type"), "/comments") {
			part = resolve(path.Dir(s.part), attr(e, "Target"))
		}
		return nil
	}); err != nil || part == "" {
		return nil, err
	}
	var authors []string
	err = s.book.texts(part, []string{"author", "comment"}, func(e xml.StartElement, text string) {
		if e.Name.Local == "author" {
			authors = append(authors, text)
			return
		}
		row, column, ok := sheet.ParseName(attr(e, "ref"))
		by, err := strconv.Atoi(attr(e, "authorId"))
		if ok && (err != nil || by < 0 || by >= len(authors) || authors[by] != author) {
			list = append(list, Comment{sheet.Cell{Row: int32(row), At: int32(column)}, strings.TrimSpace(text)})
		}
	})
	return list, err
}

// texts hands on the text of each element of some names in a part, if there is
// the part. The reading aid within East Asian text is no part of it.
func (b *Book) texts(part string, names []string, each func(e xml.StartElement, text string)) error {
	d, err := b.open(part)
	if d == nil || err != nil {
		return err
	}
	var of xml.StartElement
	var text strings.Builder
	grab, phonic := false, 0
	for {
		t, err := d.next()
		if t == nil || err != nil {
			return err
		}
		switch t := t.(type) {
		case xml.CharData:
			if grab && phonic == 0 {
				text.Write(t)
			}
		case xml.StartElement:
			switch name := t.Name.Local; {
			case slices.Contains(names, name):
				of, grab = t, name == "author" // whose text stands in it bare
				text.Reset()
			case name == "t":
				grab = true
			case name == "rPh":
				phonic++
			}
		case xml.EndElement:
			switch name := t.Name.Local; {
			case slices.Contains(names, name):
				each(of, text.String())
				grab = false
			case name == "t":
				grab = false
			case name == "rPh":
				phonic--
			}
		}
	}
}
