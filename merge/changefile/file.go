package changefile

import (
	"fmt"
	"io"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// Read reads a change set by its file's extension; "-" is told by its first
// bytes. Cautions are left unsaid: see [ReadSaying].
func Read(path string, stdin io.Reader) (*merge.ChangeSet, error) {
	cs, _, err := ReadSaying(path, stdin)
	return cs, err
}

// ReadSaying is [Read] that also returns cautions, each a line for a person.
func ReadSaying(path string, stdin io.Reader) (*merge.ChangeSet, []string, error) {
	if tablefile.IsPatch(path) {
		return nil, nil, &tables.Fault{File: path, What: "a JSON Patch holds no evidence and is not read back: want the change set itself"}
	}
	data, format, err := tablefile.Bytes(path, stdin)
	if err != nil {
		return nil, nil, err
	}
	return Parse(data, format, path)
}

// Parse reads a change set in a spelling that is known.
func Parse(data []byte, format, name string) (cs *merge.ChangeSet, cautions []string, err error) {
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

// Write writes a change set, replacing the file whole; "-" is JSON on stdout. A
// JSON Patch speaks of positions and needs the document: see [WriteFor].
func Write(path string, cs *merge.ChangeSet, stdout io.Writer) error {
	return WriteFor(path, cs, nil, tablefile.Options{Stdout: stdout})
}

// WriteFor is [Write] for a change set to a known document, which a JSON Patch
// (a name that ends in .patch.json) needs, and which lets a workbook show the
// tables afterwards.
func WriteFor(path string, cs *merge.ChangeSet, base *tables.Calibration, opt tablefile.Options) error {
	if tablefile.IsPatch(path) {
		if base == nil {
			return &tables.Fault{File: path, What: "a JSON Patch speaks of positions and needs the document that it applies to: diff OLD NEW -o writes one"}
		}
		return tablefile.Replace(path, opt.Stdout, func(w io.Writer) error { return WritePatch(w, base, cs) })
	}
	if base != nil {
		opt.Also = append([]string{tablefile.PatchSuffix}, opt.Also...)
	}
	format, err := tablefile.OutFormat(path, opt)
	if err != nil {
		return err
	}
	if format == tablefile.XLSX {
		return tablefile.Replace(path, opt.Stdout, func(w io.Writer) error { return WriteXLSX(w, cs, base) })
	}
	return WriteFormat(path, format, cs, opt.Stdout)
}

// WriteFormat writes a change set in a named spelling.
func WriteFormat(path, format string, cs *merge.ChangeSet, stdout io.Writer) error {
	var write func(io.Writer, *merge.ChangeSet) error
	switch format {
	case tablefile.JSON, "":
		write = WriteJSON
	case tablefile.CSV:
		write = WriteCSV
	case tablefile.XLSX:
		write = func(w io.Writer, cs *merge.ChangeSet) error { return WriteXLSX(w, cs, nil) }
	default:
		return fmt.Errorf("format %s is not known, want json, csv or xlsx", tables.Quote(format))
	}
	return tablefile.Replace(path, stdout, func(w io.Writer) error { return write(w, cs) })
}
