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
	"strings"

	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablefile"
	"calsplice/tables/tablexlsx"
)

// format is the spelling of a document by the name that it has in the
// repository and its bytes; "" where it is no document of ours.
func format(name string, data []byte) string {
	f := named(name)
	said := ""
	switch f {
	case tablefile.CSV:
		text := bytes.TrimLeft(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")), "\" \t\r\n")
		first, _, _ := bytes.Cut(text, []byte("\n"))
		if bytes.HasPrefix(first, []byte("calsplice")) && !bytes.Contains(first, []byte("changes")) {
			return f
		}
	case tablefile.XLSX:
		said = tablexlsx.Format(data)
	default:
		said = strictjson.Format(data)
	}
	if strings.HasPrefix(said, "calsplice/") || strings.HasPrefix(said, "calsplice.cells/") {
		return f
	}
	return ""
}

// named is the spelling that a name asks for; JSON where it asks for none.
func named(name string) string {
	if f, err := tablefile.Format(name); err == nil {
		return f
	}
	return tablefile.JSON
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
	err := tablefile.Write("-", doc, tablefile.Options{Format: named(name), Stdout: &b})
	return b.Bytes(), err
}
