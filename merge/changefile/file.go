package changefile

import (
	"io"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// Read reads a change set by its file's extension; "-" is told by its first
// bytes.
func Read(path string, stdin io.Reader) (*merge.ChangeSet, error) {
	data, format, err := tablefile.Bytes(path, stdin)
	if err != nil {
		return nil, err
	}
	if format != tablefile.JSON {
		return nil, &tables.Fault{File: path, What: "a change set as " + format + " is not built yet"}
	}
	return ParseJSON(data, path)
}

// Write writes a change set, replacing the file whole; "-" is JSON on stdout.
func Write(path string, cs *merge.ChangeSet, stdout io.Writer) error {
	format := tablefile.JSON
	if path != "-" {
		var err error
		if format, err = tablefile.Format(path); err != nil {
			return err
		}
	}
	if format != tablefile.JSON {
		return &tables.Fault{File: path, What: "a change set as " + format + " is not built yet"}
	}
	return tablefile.Replace(path, stdout, func(w io.Writer) error { return WriteJSON(w, cs) })
}
