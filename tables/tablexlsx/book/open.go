package book

import (
	"archive/zip"
	"bytes"
	"cmp"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"

	"calsplice/tables"
	"calsplice/tables/sheet"
)

// The bounds of what is read, beside those of every reader ([tables.MaxBytes]).
// A workbook of 800,000 cells unpacks to some 30 MB, at 5 to 30 times its size.
const (
	mostParts = 20000
	mostRatio = 150      // unpacked to packed, of a part
	ratioFrom = 16 << 20 // parts that unpack to less may have any ratio
	mostDepth = 64       // elements within elements
)

// Unpacked XML takes a few times its size in memory, so half of what a plain
// text may have.
func mostUnpacked() int64 { return tables.MaxBytes() / 2 }

// tooLarge names the bound and how to move it, since a large workbook may be a
// good one.
func tooLarge() error {
	return fmt.Errorf("the workbook unpacks to more than %d MiB: refused (half of the environment variable CALSPLICE_MAX_MIB)", mostUnpacked()>>20)
}

// Book is a workbook that has been read.
type Book struct {
	Sheets []*Sheet

	parts   map[string]*zip.File
	shared  string // the part of the shared text
	styles  string // the part of the styles
	strings []string
	looks   []sheet.Kind // of a number, by style
	cells   int
}

// Open opens a workbook; its sheets are read as they are asked for. An error of a
// part names it; errors are one line.
func Open(data []byte) (*Book, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	switch {
	case err != nil && bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0")):
		return nil, errors.New("a workbook with a password or of the old format (.xls): save it as .xlsx without a password")
	case err != nil:
		return nil, errors.New("not a workbook: it is no zip archive")
	}
	b := &Book{parts: map[string]*zip.File{}}
	if err := b.bound(z); err != nil {
		return nil, err
	}
	if b.Sheets, err = b.contents(); err != nil {
		return nil, err
	}
	var shared struct {
		Texts []richText `xml:"si"`
	}
	if err := b.decode(b.shared, &shared); err != nil {
		return nil, err
	}
	for _, t := range shared.Texts {
		b.strings = append(b.strings, unescape(t.text()))
	}
	return b, b.readStyles()
}

// bound refuses an archive by its directory, before anything is unpacked. A part
// that unpacks to more than the directory says is an error of package zip.
func (b *Book) bound(z *zip.Reader) error {
	if len(z.File) > mostParts {
		return fmt.Errorf("a workbook of %d parts is refused: more than %d", len(z.File), mostParts)
	}
	var total uint64
	for _, f := range z.File {
		name := strings.ToLower(strings.TrimPrefix(path.Clean(strings.ReplaceAll(f.Name, `\`, "/")), "/"))
		if _, ok := b.parts[name]; ok {
			return fmt.Errorf("not a sound workbook: its part %q stands twice", name)
		}
		b.parts[name] = f
		total += f.UncompressedSize64
		if most := uint64(mostUnpacked()); f.UncompressedSize64 > most || total > most {
			return tooLarge()
		}
		if f.UncompressedSize64 > ratioFrom && f.UncompressedSize64/mostRatio > f.CompressedSize64 {
			return fmt.Errorf("the workbook's part %q unpacks to more than %d times its size: refused", name, mostRatio)
		}
	}
	return nil
}

// Cautions name what a workbook may hold that no reader here looks at. Nothing
// of it is run or fetched, but a person should know that it is there: what it
// computes is not in the cells. File is what they call the workbook.
func (b *Book) Cautions(file string) (list tables.Faults) {
	for _, c := range []struct{ what, part, other string }{
		{"has macros", "/vbaproject.bin", "/macrosheets/"},
		{"links to other files", "/externallinks/", "/externallinks/"},
		{"has data connections", "/connections.xml", "/querytables/"},
	} {
		for name := range b.parts {
			if strings.Contains(name, c.part) || strings.Contains(name, c.other) {
				list = append(list, &tables.Fault{File: file, What: "the workbook " + c.what + ": ignored"})
				break
			}
		}
	}
	return list
}

// open is a part's bytes, or nil where there is no such part.
func (b *Book) open(name string) (*decoder, error) {
	f := b.parts[strings.ToLower(name)]
	if f == nil {
		return nil, nil
	}
	r, err := f.Open()
	if err != nil {
		return nil, fmt.Errorf("the workbook's part %q does not unpack: %v", name, err)
	}
	return &decoder{Decoder: xml.NewDecoder(r), name: name, part: r}, nil
}

// decoder walks one part. It takes raw tokens, since a large sheet with its
// namespaces resolved takes two fifths more memory, and holds them to what the
// library then leaves unchecked: that elements end where they began, and how deep
// they nest. Entities other than XML's own five need a document type, which is
// refused.
type decoder struct {
	*xml.Decoder
	name string
	part io.Closer
	open []xml.Name // the elements that are not closed yet
}

// next is the next start or end of an element, or text; nil at the end.
func (d *decoder) next() (xml.Token, error) {
	t, err := d.RawToken()
	if err == io.EOF {
		if len(d.open) > 0 {
			return nil, fmt.Errorf("the workbook's part %q is cut short", d.name)
		}
		return nil, nil
	}
	if err != nil {
		line := strings.SplitN(err.Error(), "\n", 2)[0]
		return nil, fmt.Errorf("the workbook's part %q is not sound: %s", d.name, strings.TrimPrefix(line, "XML syntax error on "))
	}
	switch t := t.(type) {
	case xml.StartElement:
		if d.open = append(d.open, t.Name); len(d.open) > mostDepth {
			return nil, fmt.Errorf("the workbook's part %q nests deeper than %d", d.name, mostDepth)
		}
	case xml.EndElement:
		last := len(d.open) - 1
		if last < 0 || d.open[last] != t.Name {
			return nil, fmt.Errorf("the workbook's part %q is not sound: element %s ends where it did not begin", d.name, tables.Quote(t.Name.Local))
		}
		d.open = d.open[:last]
	case xml.Directive:
		return nil, fmt.Errorf("the workbook's part %q has a document type or an entity: refused", d.name)
	}
	return t, nil
}

// Token is [decoder.next] for package xml, which puts what it reads into structures.
func (d *decoder) Token() (xml.Token, error) {
	t, err := d.next()
	if t == nil && err == nil {
		err = io.EOF
	}
	return t, err
}

// decode puts a part into a structure, if there is the part.
func (b *Book) decode(name string, into any) error {
	d, err := b.open(name)
	if d == nil || err != nil {
		return err
	}
	defer d.part.Close()
	if err = xml.NewTokenDecoder(d).Decode(into); err == io.EOF {
		err = fmt.Errorf("the workbook's part %q is empty", name)
	}
	return err
}

// attr is an attribute by its name, whatever prefix a program gave it; "" where
// there is none.
func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// relations are the parts that a part leads to. Programs name parts as they like:
// only these lists say which is a sheet, which holds the styles and which the text.
type relations struct {
	List []struct {
		ID     string `xml:"Id,attr"`
		Type   string `xml:"Type,attr"`
		Target string `xml:"Target,attr"`
		Mode   string `xml:"TargetMode,attr"`
	} `xml:"Relationship"`
}

// relations are the parts of the workbook that a part leads to, by how they are called
// there and by the last word of their type.
func (b *Book) relations(part string) (byID, byKind map[string]string, err error) {
	var r relations
	folder, name := path.Split(part)
	err = b.decode(path.Join(folder, "_rels", name+".rels"), &r)
	byID, byKind = map[string]string{}, map[string]string{}
	for _, l := range r.List {
		if l.Mode != "External" {
			to := resolve(folder, l.Target)
			byID[l.ID], byKind[path.Base(l.Type)] = to, to
		}
	}
	return byID, byKind, err
}

// contents lists the sheets in their order, each with the part that holds it.
func (b *Book) contents() (sheets []*Sheet, err error) {
	_, roots, err := b.relations("")
	if err != nil {
		return nil, err
	}
	book := cmp.Or(roots["officeDocument"], "xl/workbook.xml")
	parts, kinds, err := b.relations(book)
	if err != nil {
		return nil, err
	}
	b.shared, b.styles = kinds["sharedStrings"], kinds["styles"]
	var list struct {
		Sheets []struct {
			Name string `xml:"name,attr"`
			ID   string `xml:"id,attr"`
		} `xml:"sheets>sheet"`
	}
	if err = b.decode(book, &list); err == nil && list.Sheets == nil {
		err = errors.New("not a workbook: it has no list of sheets")
	}
	for _, s := range list.Sheets {
		sheets = append(sheets, &Sheet{Name: unescape(s.Name), book: b, part: parts[s.ID]})
	}
	return sheets, err
}

// resolve is the part that a relationship of a part in a folder leads to.
func resolve(folder, to string) string {
	if !strings.HasPrefix(to, "/") {
		to = path.Join("/", folder, to)
	}
	return strings.TrimPrefix(path.Clean(to), "/")
}

// richText is text in pieces of several looks. The reading aid within East Asian
// text is no part of it.
type richText struct {
	Plain string   `xml:"t"`
	Runs  []string `xml:"r>t"`
}

func (t richText) text() string { return t.Plain + strings.Join(t.Runs, "") }
