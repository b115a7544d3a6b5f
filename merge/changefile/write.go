package changefile

import (
	"io"

	"calsplice/merge"
	"calsplice/tables/tablejson"
)

// WriteJSON writes the canonical JSON of a change set: its own keys always, an
// edit to a cell on one line and its evidence on the next, and each side of a
// field on a line of its own.
func WriteJSON(w io.Writer, cs *merge.ChangeSet) (err error) {
	none := &reader{}
	forms := newForms(none)
	edit := func(b []byte, i int) []byte {
		if b = appendEdit(b, forms, cs.Edits[i]); len(b) >= 1<<16 && err == nil {
			_, err = w.Write(b)
			b = b[:0]
		}
		return b
	}
	o := tablejson.Object{B: []byte("{\n"), Indent: 2}
	o.Parts(none.set(cs, edit), cs.Extra)
	if err == nil {
		_, err = w.Write(append(o.B, "\n}\n"...))
	}
	return err
}

// appendEdit appends an edit, its evidence on a line of its own under it, so that
// the line of the edit stays short enough to compare by eye.
func appendEdit(b []byte, forms *forms, e merge.Edit) []byte {
	o := tablejson.Object{B: append(b, '{'), Inline: true, Indent: 4}
	for _, p := range forms.take(e) {
		if p.Name == "why" {
			o.Break = "\n     "
		}
		o.Part(p)
	}
	return append(o.B, '}')
}

// Entry is the text of one edit in the file, without its braces.
func Entry(e merge.Edit) string {
	b := appendEdit(nil, newForms(&reader{}), e)
	return string(b[1 : len(b)-1])
}

// appendFrame appends a frame on one line: a difference between two change sets
// then shows which table's axes are others.
func appendFrame(b []byte, f *merge.Frame) []byte {
	return tablejson.AppendParts(b, (&reader{}).frameParts(f))
}

// appendLines appends a list, one line for each of n.
func appendLines(b []byte, n int, one func(b []byte, i int) []byte) []byte {
	b = append(b, '[')
	for i := range n {
		if i > 0 {
			b = append(b, ',')
		}
		b = one(append(b, "\n    "...), i)
	}
	if n > 0 {
		b = append(b, "\n  "...)
	}
	return append(b, ']')
}
