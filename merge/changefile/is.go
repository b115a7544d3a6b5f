package changefile

import (
	"bytes"
	"strings"

	"calsplice/tables/strictcsv"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablefile"
	"calsplice/tables/tablexlsx"
)

// Is reports whether a file's bytes, in a spelling that is known, are meant to
// be a change set rather than a calibration or cells.
func Is(data []byte, format string) bool {
	switch format {
	case tablefile.JSON:
		return strings.HasPrefix(strictjson.Format(data), "calsplice.changes/")
	case tablefile.CSV:
		first, _, _ := bytes.Cut(strictcsv.FromUTF16(data[:min(len(data), 200)]), []byte("\n"))
		_, kind, _ := strictcsv.Begin(first, "", "")
		return kind.Text == "changes"
	}
	return strings.HasPrefix(tablexlsx.Format(data), "calsplice.changes/")
}
