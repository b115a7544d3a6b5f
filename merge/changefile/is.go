package changefile

import (
	"regexp"
	"strings"

	"calsplice/tables/strictcsv"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablefile"
	"calsplice/tables/tablexlsx"
)

var firstLine = regexp.MustCompile(`^(\x{feff})?"?calsplice"?[,;\t]"?[^,;\t]*"?[,;\t]"?changes`)

// Is reports whether a file's bytes, in a spelling that is known, are meant to
// be a change set rather than a calibration or cells.
func Is(data []byte, format string) bool {
	switch format {
	case tablefile.JSON:
		return strings.HasPrefix(strictjson.Format(data), "calsplice.changes/")
	case tablefile.CSV:
		return firstLine.Match(strictcsv.FromUTF16(data[:min(len(data), 200)]))
	}
	return strings.HasPrefix(tablexlsx.Format(data), "calsplice.changes/")
}
