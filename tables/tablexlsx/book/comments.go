package book

import (
	"strconv"
	"strings"

	"calsplice/tables/sheet"
)

// Comment is a note that a person hung onto a cell.
type Comment struct {
	Cell sheet.Cell
	Text string
}

// Comments are the notes on a sheet's cells that calsplice did not write. Those that
// it wrote show what is read elsewhere; a person's is not, and must hear of that. The
// author's name tells them apart, which programs keep when they save.
func (s *Sheet) Comments() (list []Comment, err error) {
	_, parts, err := s.book.relations(s.part)
	if err != nil {
		return nil, err
	}
	var notes struct {
		Authors []string `xml:"authors>author"`
		List    []struct {
			Ref    string   `xml:"ref,attr"`
			Author string   `xml:"authorId,attr"`
			Text   richText `xml:"text"`
		} `xml:"commentList>comment"`
	}
	err = s.book.decode(parts["comments"], &notes)
	for _, n := range notes.List {
		row, column, ok := sheet.ParseName(n.Ref)
		by, err := strconv.Atoi(n.Author)
		if ok && (err != nil || by < 0 || by >= len(notes.Authors) || notes.Authors[by] != author) {
			list = append(list, Comment{sheet.Cell{Row: int32(row), At: int32(column)}, strings.TrimSpace(n.Text.text())})
		}
	}
	return list, err
}
