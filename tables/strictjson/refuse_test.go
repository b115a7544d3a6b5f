package strictjson

import (
	"runtime"
	"strings"
	"testing"

	"calsplice/tables"
)

// TestRefuses: what RFC 8259 leaves to the reader and this one refuses, in the
// object of a format and in a value that is kept.
func TestRefuses(t *testing.T) {
	keys := Keys{Known: []string{"name", "notes"}, Extra: true}
	for text, want := range map[string]string{
		`{"name": 1, "name": 1}`:              `x:1:13: name: the key stands twice`,
		`{"name": 1, "n\u0061me": 1}`:         `x:1:13: name: the key stands twice`,
		`{"Name": 1}`:                         `x:1:2: Name: there is no key "Name": did you mean name?`,
		`{"x-a": {"b": 1, "b": 2}}`:           `x:1:18: x-a.b: the key stands twice`,
		`{"x-a": [{"b": {"c": 1, "c": 1}}]}`:  `x:1:25: x-a[0].b.c: the key stands twice`,
		`{"x-a": 1, "x-a": 1}`:                `x:1:12: x-a: the key stands twice`,
		`{"name": 1, "notes": 1, "x-b": "b"}`: "",
	} {
		r := New([]byte(text), "x")
		r.Object(keys, func(string) { r.Raw() })
		got := ""
		if err := r.Err(); err != nil {
			got = err.Error()
		}
		if got != want {
			t.Errorf("%s: %q, want %q", text, got, want)
		}
	}
}

// TestManyFaults: a hundred are told, and reading ends.
func TestManyFaults(t *testing.T) {
	r := New([]byte("{"+strings.Repeat(`"a": 1, `, 5000)+`"b": 1}`), "x")
	r.Object(Keys{Known: []string{"a", "b"}}, func(string) { r.Raw() })
	lines := strings.Split(r.Err().Error(), "\n")
	if len(lines) != tables.MaxFaults+1 || !strings.HasSuffix(lines[tables.MaxFaults], "reading ends here") {
		t.Errorf("%d lines, the last %q", len(lines), lines[len(lines)-1])
	}
}

// TestPrint: results for machines hold nothing that steers a terminal.
func TestPrint(t *testing.T) {
	const name = "a\x1b[2J\u009b31m\u202e\u2028\x7f<é>"
	var b strings.Builder
	if err := Print(&b, map[string]any{"name": name}); err != nil {
		t.Fatal(err)
	}
	want := "{\n  \"name\": \"a\\u001b[2J\\u009b31m\\u202e\\u2028\\u007f<é>\"\n}\n"
	if b.String() != want {
		t.Errorf("got %q, want %q", b.String(), want)
	}
	if strings.ContainsFunc(strings.ReplaceAll(b.String(), "\n", ""), tables.Steers) {
		t.Error("something steers")
	}
}

// TestLongTokens: a text or a number that no document has is refused while it
// is read, before it is copied.
func TestLongTokens(t *testing.T) {
	const twice = 2 * tables.MaxText
	digits, text := strings.Repeat("1", longestNumber), strings.Repeat("a", tables.MaxText)
	for _, c := range []struct{ why, text, want string }{
		{"the longest text", `"` + text + `"`, ""},
		{"a longer one", `"` + strings.Repeat("a", twice) + `"`, "x:1:6: k: text is longer than 16 MiB"},
		{"one of escapes", `"` + strings.Repeat(`\n`, twice) + `"`, "x:1:6: k: text is longer than 16 MiB"},
		{"the longest number", "0." + digits[2:], ""},
		{"a longer one", strings.Repeat("1", twice), "x:1:6: k: " + digits[:60] + " is longer than 1100 characters"},
	} {
		data := []byte(`{"k":` + c.text + `}`)
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		r := New(data, "x")
		r.Object(Keys{Known: []string{"k"}}, func(string) {
			if r.Kind() == '"' {
				r.Text()
			} else {
				r.Number()
			}
		})
		got := ""
		if err := r.Err(); err != nil {
			got = err.Error()
		}
		runtime.ReadMemStats(&after)
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.why, got, c.want)
		}
		if took := after.TotalAlloc - before.TotalAlloc; took > 8*tables.MaxText {
			t.Errorf("%s: took %d MiB", c.why, took>>20) // promise: bounded time and memory
		}
	}
	for text, want := range map[string]string{
		`{"x-a": 1e999}`: "x:1:9: x-a: 1e999 is too large for a number", `{"x-a": 9007199254740993}`: "", `{"x-a": ` + digits + `1}`: "x:1:9: x-a: " + digits[:60] + " is too large for a number",
	} {
		r := New([]byte(text), "x")
		r.Object(Keys{Extra: true, Known: []string{}}, func(string) { r.Raw() })
		if err := r.Err(); (err == nil) != (want == "") || err != nil && err.Error() != want {
			t.Errorf("%.40s: %v, want %s", text, err, want)
		}
	}
}
