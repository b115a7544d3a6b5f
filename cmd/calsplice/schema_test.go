package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// TestJSONOutputsFitTheirSchemas runs commands with --json on the demo's
// files: an independent validator must find that each prints what its schema
// says.
func TestJSONOutputsFitTheirSchemas(t *testing.T) {
	dir := t.TempDir()
	command := func(args ...string) []byte {
		var stdout, stderr bytes.Buffer
		if status := run(args, strings.NewReader(""), &stdout, &stderr); status == statusTrouble {
			t.Fatalf("%s: %s", strings.Join(args, " "), stderr.String())
		}
		return stdout.Bytes()
	}
	command("demo", "-o", dir)
	at := func(name string) string { return filepath.Join(dir, name) }
	for _, c := range []struct {
		schema string
		args   []string
	}{
		{"check", []string{"check", at("van-found.json"), at("van-fitted.json"), "--json"}},
		{"diff", []string{"diff", at("van-found.json"), at("van-corrected.json"), "--json"}},
		{"diff", []string{"diff", at("van-found.json"), at("tender.json"), "--json"}},
		{"diff-cells", []string{"diff", at("trims-1.json"), at("trims-2.json"), "--json"}},
		{"merge", []string{"merge", at("van-fitted.json"), at("van-corrected.json"), at("van-colleague.json"), "-o", at("out.json"), "--json"}},
		{"rescale", []string{"rescale", at("van-found.json"), "--table", "injector.flow", "--x", "250,400", "-o", at("out.json"), "--json"}},
		{"transfer", []string{"transfer", at("tender.json"), at("van-found.json"), "-o", at("out.json"), "--json", "--partial"}},
		{"channels", []string{"channels", at("drive-1.csv"), "--json"}},
		{"diff-cells", []string{"diff", at("drive-1.csv"), at("drive-2.csv"), "--axes", at("van-fitted.json"), "--json"}},
		{"log-profile", []string{"channels", at("drive-1.csv"), "--decimal", ".", "--json", "--save", at("logger.json")}},
		{"report", []string{"report", at("van-fitted.json"), at("van-corrected.json"), "--before", at("drive-1.csv"), "--after", at("drive-2.csv"), "--json"}},
		{"report", []string{"report", at("van-fitted.json"), at("van-corrected.json"), "--json"}},
		{"events", []string{"events", at("drive-1.csv"), "--channel", "trim", "--above", "1", "--json"}},
		{"propose", []string{"propose", "fuel", at("van-fitted.json"), at("drive-1.csv"), "-o", at("out.json"), "--json"}},
		{"explain", []string{"explain", at("van-fitted.json"), at("drive-1.csv"), "--json"}},
		{"changes", []string{"diff", at("van-found.json"), at("van-corrected.json"), "-q", "-o", "-"}},
		{"calibration", []string{"convert", at("van-found.json"), "-o", "-"}},
		{"cells", []string{"convert", at("trims-1.json"), "-o", "-"}},
	} {
		text, err := schemaOf(c.schema)
		if err != nil {
			t.Fatal(err)
		}
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
		if err != nil {
			t.Fatalf("%s: %v\n%s", c.schema, err, text)
		}
		compiler := jsonschema.NewCompiler()
		if err := compiler.AddResource("urn:test", doc); err != nil {
			t.Fatal(err)
		}
		schema, err := compiler.Compile("urn:test")
		if err != nil {
			t.Fatalf("%s: %v", c.schema, err)
		}
		out := command(c.args...)
		if c.schema == "log-profile" {
			if out, err = os.ReadFile(at("logger.json")); err != nil {
				t.Fatal(err)
			}
		}
		value, err := jsonschema.UnmarshalJSON(bytes.NewReader(out))
		if err != nil {
			t.Errorf("%s prints no JSON: %v\n%s", strings.Join(c.args, " "), err, out)
			continue
		}
		if err := schema.Validate(value); err != nil {
			t.Errorf("%s: %v", strings.Join(c.args, " "), err)
		}
	}
}
