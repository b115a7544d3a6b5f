package book

import (
	"encoding/xml"
	"path"
	"strconv"
	"strings"
)

// readComments reads the notes on a sheet's cells that a person wrote.
func (b *Book) readComments(s *Sheet) error {
	rels := path.Join(path.Dir(s.part), "_rels", path.Base(s.part)+".rels")
	part := ""
	if _, err := b.each(rels, func(e xml.StartElement) error {
		if strings.HasSuffix(attr(e, "Type"), "/comments") {
			part = resolve(path.Dir(s.part), attr(e, "Target"))
		}
		return nil
	}); err != nil || part == "" {
		return err
	}
	d, err := b.open(part)
	if d == nil || err != nil {
		return err
	}
	var authors []string
	var text strings.Builder
	var at, by string
	for {
		t, err := d.next()
		if t == nil || err != nil {
			return err
		}
		switch t := t.(type) {
		case xml.CharData:
			text.Write(t)
		case xml.StartElement:
			switch t.Name.Local {
			case "author", "comment":
				text.Reset()
				at, by = attr(t, "ref"), attr(t, "authorId")
			}
		case xml.EndElement:
			switch t.Name.Local {
			case "author":
				authors = append(authors, text.String())
			case "comment":
				i, err := strconv.Atoi(by)
				if err != nil || i < 0 || i >= len(authors) || authors[i] != Author {
					s.Comments = append(s.Comments, Comment{at, strings.TrimSpace(text.String())})
				}
			}
		}
	}
}
