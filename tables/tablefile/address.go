package tablefile

import (
	"strings"

	"calsplice/tables"
)

// SplitTable takes "FILE:TABLE" apart at its last colon: the file, and the id
// of a table in it. Where no id follows a colon the whole is the file and id is
// "": so a Windows path with a drive letter, `C:\shop\van.json`, is a file, and
// `C:\shop\van.json:injector.flow` a table in it.
func SplitTable(address string) (file, id string) {
	i := strings.LastIndexByte(address, ':')
	if i < 0 {
		return address, ""
	}
	file, id = address[:i], address[i+1:]
	if file == "" || tables.ValidID(id) != nil {
		return address, ""
	}
	if drive := len(file) == 1; drive && strings.ContainsAny(id, ".") {
		return address, "" // C:van.json names a file in the drive's own folder
	}
	return file, id
}
