package changefile

import (
	"io"
	"strings"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// ReadWithCautions reads a change set by its file's extension; "-" is told by its first
// bytes. It returns cautions too, each a line for a person.
func ReadWithCautions(path string, stdin io.Reader) (*merge.ChangeSet, tables.Faults, error) {
	if tablefile.IsPatch(path) {
		return nil, nil, &tables.Fault{File: path, What: "a JSON Patch holds no evidence and is not read back: expected the change set itself"}
	}
	data, format, err := tablefile.Bytes(path, stdin)
	if err != nil {
		return nil, nil, err
	}
	return Parse(data, format, path)
}

// Is reports whether a file's bytes, in a spelling that is known, are meant to
// be a change set rather than a calibration or cells.
func Is(data []byte, format string) bool {
	return strings.HasPrefix(tablefile.Says(data, format), "calsplice.changes")
}

// Parse reads a change set in a spelling that is known.
func Parse(data []byte, format, name string) (cs *merge.ChangeSet, cautions tables.Faults, err error) {
	switch format {
	case tablefile.JSON:
		cs, err = ParseJSON(data, name)
	case tablefile.CSV:
		cs, cautions, err = ParseCSV(data, name)
	default:
		cs, cautions, err = ParseXLSX(data, name)
	}
	return cs, cautions, err
}

// Write writes a change set, replacing the file whole; "-" is JSON unless opt says
// otherwise. Base is the document that it is for, where that is known: a JSON
// Patch (a name that ends in .patch.json) speaks of positions and needs it, and a
// workbook then shows the tables afterwards.
func Write(path string, cs *merge.ChangeSet, base *tables.Calibration, opt tablefile.Options) error {
	write := WriteJSON
	if tablefile.IsPatch(path) {
		if base == nil {
			return &tables.Fault{File: path, What: "a JSON Patch speaks of positions and needs the document that it applies to: diff OLD NEW -o writes one"}
		}
		write = func(w io.Writer, cs *merge.ChangeSet) error { return WritePatch(w, base, cs) }
	} else {
		if base != nil {
			opt.Also = append([]string{tablefile.PatchSuffix}, opt.Also...)
		}
		switch format, err := tablefile.OutFormat(path, opt); {
		case err != nil:
			return err
		case format == tablefile.CSV:
			write = WriteCSV
		case format == tablefile.XLSX:
			write = func(w io.Writer, cs *merge.ChangeSet) error { return WriteXLSX(w, cs, base) }
		}
	}
	return tablefile.Replace(path, opt.Stdout, func(w io.Writer) error { return write(w, cs) })
}
