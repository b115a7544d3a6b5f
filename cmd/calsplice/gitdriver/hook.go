package gitdriver

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"calsplice/cmd/calsplice/fail"
	"calsplice/tables/tablefile"
)

// The hook that refuses a commit while conflicts stand.
const (
	hookLine = " git pre-commit || exit 1"
	hookHead = "#!/bin/sh\n# Refuses a commit while conflicts of a calibration stand.\n"
)

// hook is the file of the hook, and what it holds; whether it is there.
func (s Scope) hook() (file, text string, there bool) {
	file = s.gitPath("hooks/pre-commit")
	data, err := os.ReadFile(file)
	return file, string(data), !errors.Is(err, fs.ErrNotExist)
}

// refuses reports whether a hook refuses commits while conflicts stand.
func refuses(hook string) bool { return strings.Contains(hook, strings.TrimSpace(hookLine)) }

// installHook sets the hook where its place is free, and else says which line
// to add. A folder of hooks that somebody named is theirs: it may be that of
// every repository, or itself be kept in git.
func (s Scope) installHook(program string) string {
	if s.Global {
		return "each clone has its own hooks: calsplice git install in a clone has it refuse commits while conflicts stand"
	}
	// A hook of the user's may do anything, and end anywhere: so a line in the midst
	// of it is for the user to add.
	file, text, there := s.hook()
	if !refuses(text) && (there || s.setting("core.hooksPath") != "") {
		return fmt.Sprintf("to refuse commits while conflicts stand, add this line to %s: %s", file, program+hookLine)
	}
	if !there {
		fail.If(tablefile.Plain(file, os.MkdirAll(filepath.Dir(file), 0o777)))
		// Executable for all who may read it, as git's own samples are.
		fail.If(tablefile.Plain(file, os.WriteFile(file, []byte(hookHead+program+hookLine+"\n"), 0o777)))
	}
	return "commits are refused while conflicts stand, by " + file
}

// removeHook removes the hook where it is all that installHook wrote.
func (s Scope) removeHook() string {
	file, text, _ := s.hook()
	line, ours := strings.CutPrefix(text, hookHead)
	switch {
	case !refuses(text):
		return ""
	// The file is ours to the byte, but for the program's place.
	case ours && strings.Count(line, "\n") == 1 && strings.HasSuffix(line, hookLine+"\n") && os.Remove(file) == nil:
		return "removed " + file
	}
	return "the line that ends in " + strings.TrimSpace(hookLine) + " is yours to take out of " + file
}

// lacksHook says what keeps git from refusing a commit while conflicts stand.
func (s Scope) lacksHook() []string {
	file, text, there := s.hook()
	info, _ := os.Stat(file)
	switch {
	case !there:
		return []string{"no hook refuses commits while conflicts stand: calsplice git install sets it, or says how"}
	case !refuses(text):
		return []string{fmt.Sprintf("the hook %s does not refuse commits while conflicts stand: add the line calsplice%s", file, hookLine)}
	case runtime.GOOS != "windows" && info.Mode()&0o111 == 0:
		return []string{fmt.Sprintf("git does not run the hook %s, which is not executable: chmod +x it", file)}
	}
	return nil
}

// Commit lists the conflicts that stand in the way of what is staged.
func (s Scope) Commit() []Standing {
	s = s.top()
	// Only what would be committed counts: a conflict in another file is no reason to
	// keep this one back. Lists in git's folder stand for the merge as a whole.
	return s.standing(documents(s.ask("diff", "--cached", "--name-only", "-z")))
}

// documents are those of a list of paths that a calibration could stand in.
func documents(paths string) (list []string) {
	for path := range strings.SplitSeq(paths, "\x00") {
		if _, err := tablefile.Format(path); path != "" && err == nil {
			list = append(list, path)
		}
	}
	return list
}
