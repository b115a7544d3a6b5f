// Package gitdriver makes git compare and merge calibrations cell by cell.
//
// [Install] names the program in git's configuration, as a textconv (so that
// git diff, blame and word diffs show cells), a merge driver and a merge tool,
// and names the files in .gitattributes. The patterns there are wide, since a
// calibration is an ordinary .json, .csv or .xlsx file: a file that is no
// calibration is shown as it is and merged as git would have.
package gitdriver

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strings"

	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablefile"
	"calsplice/tables/tablexlsx"
)

// format is the spelling of a document by the name that it has in the
// repository and its bytes; "" where it is no document of ours.
func format(name string, data []byte) string {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".csv":
		text := bytes.TrimLeft(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")), "\" \t\r\n")
		if bytes.HasPrefix(text, []byte("calsplice")) && !bytes.Contains(line(text), []byte("changes")) {
			return tablefile.CSV
		}
	case ".xlsx":
		if ours(tablexlsx.Format(data)) {
			return tablefile.XLSX
		}
	default:
		if ours(strictjson.Format(data)) {
			return tablefile.JSON
		}
	}
	return ""
}

func line(text []byte) []byte {
	first, _, _ := bytes.Cut(text, []byte("\n"))
	return first
}

func ours(format string) bool {
	return strings.HasPrefix(format, "calsplice/") || strings.HasPrefix(format, "calsplice.cells/")
}

// parse reads a document that git handed over in a file of another name.
func parse(data []byte, name string) (*tables.Calibration, error) {
	f := format(name, data)
	if f == "" {
		return nil, fmt.Errorf("%s is no calibration", name)
	}
	doc, _, err := tablefile.Parse(data, f, name)
	return doc, err
}

// spell writes a document in the spelling that its name in the repository asks
// for.
func spell(doc *tables.Calibration, name string) ([]byte, error) {
	var b bytes.Buffer
	f := tablefile.JSON
	switch strings.ToLower(filepath.Ext(name)) {
	case ".csv":
		f = tablefile.CSV
	case ".xlsx":
		f = tablefile.XLSX
	}
	err := tablefile.Write("-", doc, tablefile.Options{Format: f, Stdout: &b})
	return b.Bytes(), err
}
