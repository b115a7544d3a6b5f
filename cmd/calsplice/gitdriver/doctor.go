package gitdriver

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

// builtin are the drivers that git has of itself.
var builtin = map[string][]string{
	"diff": {"ada", "bash", "bibtex", "cpp", "csharp", "css", "dts", "elixir", "fortran", "fountain", "golang",
		"html", "java", "kotlin", "markdown", "matlab", "objc", "pascal", "perl", "php", "python", "ruby", "rust", "scheme", "tex"},
	"merge": {"text", "binary", "union"},
}

// Doctor says what this clone lacks (a driver that its attributes name and its
// configuration does not, a program that the configuration names and that is
// not there, attributes that name no driver, the hook) and which conflicts
// stand.
func (s Scope) Doctor() (findings []string, err error) {
	s, err = s.top()
	if err != nil {
		return nil, err
	}
	named, err := s.named()
	if err != nil {
		return nil, err
	}
	findings = s.unknown(named)
	names := func(driver string) bool {
		return slices.ContainsFunc(named, func(d namedDriver) bool { return d.driver == driver })
	}
	switch installed := s.has("merge", driver) || s.has("diff", driver); {
	// Where nothing is installed and nothing names the driver, one finding says it all.
	case installed:
		if !names("merge=" + driver) {
			findings = append(findings, "no .gitattributes names files for the merge driver: calsplice git install does")
		}
		findings = slices.Concat(findings, s.program(), s.outdated(), s.hook())
	case !names("merge="+driver) && !names("diff="+driver):
		findings = append(findings, "this clone lacks calsplice's drivers, and no .gitattributes names files for them: calsplice git install adds both")
	}
	tracked, err := s.git("ls-files", "-z")
	for _, standing := range s.standing(documents(tracked)) {
		findings = append(findings, standing.String())
	}
	return findings, err
}

// unknown names drivers that attributes name and git's configuration does not.
func (s Scope) unknown(named []namedDriver) (findings []string) {
	for _, d := range named {
		kind, name, _ := strings.Cut(d.driver, "=")
		// Attributes travel with a repository and configuration does not: a clone may be
		// told to use a driver that it lacks, and git says nothing of it.
		if slices.Contains(builtin[kind], name) || s.has(kind, name) {
			continue
		}
		hint := ""
		if name == driver {
			hint = ": calsplice git install adds it"
		}
		findings = append(findings, fmt.Sprintf("this clone lacks the %s driver %q that %s names%s", kind, name, d.file, hint))
	}
	return findings
}

// outdated names settings that an earlier version did not make.
func (s Scope) outdated() (findings []string) {
	for _, kv := range settings("") {
		if v, _ := s.git("config", kv[0]); !strings.HasSuffix(v, kv[1]) {
			findings = append(findings, fmt.Sprintf("git's setting %s is not %q: calsplice git install sets it", kv[0], strings.TrimSpace(kv[1])))
		}
	}
	return findings
}

// has reports whether git is configured with a driver, wherever.
func (s Scope) has(kind, name string) bool {
	// Any of these makes a name a driver; git has no list of them.
	keys := []string{"textconv", "command", "xfuncname", "funcname", "binary", "wordRegex"}
	if kind == "merge" {
		keys = []string{"driver"}
	}
	for _, k := range keys {
		if v, err := s.git("config", kind+"."+name+"."+k); err == nil && v != "" {
			return true
		}
	}
	return false
}

// program checks that git would find the program that it is told to call.
func (s Scope) program() []string {
	line, err := s.git("config", "merge."+driver+".driver")
	if err != nil {
		return nil
	}
	name, _, _ := strings.Cut(line, " git merge-driver")
	// As command wrote it for a shell, so it is read back.
	name = strings.ReplaceAll(strings.Trim(name, "'"), `'\''`, "'")
	if _, err := exec.LookPath(filepath.FromSlash(name)); err != nil {
		return []string{fmt.Sprintf("git is configured to run %s, which does not exist; run calsplice git install", name)}
	}
	return nil
}

// namedDriver is a driver that an attributes file names, as "merge=NAME".
type namedDriver struct{ driver, file string }

// named lists the drivers that the clone's attributes files name, each once.
func (s Scope) named() ([]namedDriver, error) {
	out, err := s.git("ls-files", "-z", "--cached", "--others", "--exclude-standard", "--", ".gitattributes", "**/.gitattributes")
	if err != nil {
		return nil, err
	}
	files := strings.Split(strings.Trim(out, "\x00"), "\x00")
	if info, err := s.git("rev-parse", "--git-path", "info/attributes"); err == nil {
		files = append(files, info)
	}
	var list []namedDriver
	for _, f := range files {
		if f == "" {
			continue
		}
		path := filepath.FromSlash(f)
		// Git prints names from the top of the clone, which the scope is at.
		if !filepath.IsAbs(path) {
			path = filepath.Join(s.Dir, path)
		}
		if info, err := os.Lstat(path); err != nil || !info.Mode().IsRegular() {
			continue // git follows no link either
		}
		data, err := os.ReadFile(path)
		if err != nil {
			continue
		}
		for _, driver := range driversIn(string(data)) {
			if !slices.ContainsFunc(list, func(d namedDriver) bool { return d.driver == driver }) {
				list = append(list, namedDriver{driver, f})
			}
		}
	}
	return list, nil
}

func driversIn(text string) (list []string) {
	for line := range strings.Lines(text) {
		for i, f := range strings.Fields(line) {
			if i == 0 && strings.HasPrefix(f, "#") {
				break
			}
			if i > 0 && (strings.HasPrefix(f, "diff=") || strings.HasPrefix(f, "merge=")) {
				list = append(list, f)
			}
		}
	}
	return list
}
