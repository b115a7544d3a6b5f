package sheet

import "calsplice/tables"

// Writer takes the cells of rows. A row begins with its name, and ends where the
// next one begins.
type Writer interface {
	Name(name string)
	Text(text string) // a person's, of any length
	Word(word string) // of the format, or an id, or a unit
	Number(v float64)
	JSON(value string)
}

// WriteField writes what a field holds, where it is given, into a row that names
// it. It is what [Field] reads.
func WriteField[T any](w Writer, f tables.Field[T], of *T, names ...string) {
	if !f.Given(of) {
		return
	}
	if names == nil {
		names = []string{f.Name}
	}
	w.Name(names[0])
	for _, name := range names[1:] {
		w.Word(name)
	}
	if kept, ok := f.At(of).(*tables.Kept); ok {
		w.JSON(kept.JSON())
		return
	}
	WriteParts(w, f.Parts(of))
}

// WriteParts writes numbers and texts, a cell each; text that stands alone may be
// of any length.
func WriteParts(w Writer, parts []tables.Part) {
	for _, p := range parts {
		switch {
		case p.Number != nil:
			w.Number(*p.Number)
		case p.Whole != nil:
			w.Number(float64(*p.Whole))
		case p.Words != nil || len(parts) > 1:
			w.Word(*p.Text)
		default:
			w.Text(*p.Text)
		}
	}
}

// WriteEngine writes a row for each fact about an engine.
func WriteEngine(w Writer, e *tables.Engine) {
	if e == nil {
		return
	}
	for _, f := range tables.EngineFields.Of(e) {
		WriteField(w, f, e, "engine", f.Name)
	}
}

// WriteKept writes a row for each key that is kept; prefix stands before it.
func WriteKept(w Writer, prefix string, keys tables.Extra) {
	for key, value := range keys.Sorted() {
		w.Name(prefix + key)
		w.JSON(value)
	}
}
