package main

import (
	"encoding/json"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"blowdraw/decode/programs"
)

// licenceWords stand in every copy of a licence (the texts that SPDX publishes,
// https://spdx.org/licenses/).
var licenceWords = map[string][]string{
	"Apache-2.0":   {"Apache License Version 2.0, January 2004"},
	"BSD-3-Clause": {"Redistribution and use in source and binary forms", "Neither the name of"},
	"MIT": {"Permission is hereby granted, free of charge, to any person obtaining a copy of " +
		"this software"},
	"Unlicense": {"This is free and unencumbered software released into the public domain."},
}

// Every module that is required is in the list, nothing else is, and each carries
// the licence that the list names.
func TestLicences(t *testing.T) {
	var listed []string
	for _, m := range listedModules(t) {
		listed = append(listed, m[0])
		checkLicence(t, m[0], m[1])
	}
	var required []string
	for line := range strings.Lines(read(t, "..", "..", "go.mod")) {
		if f := strings.Fields(line); strings.HasPrefix(line, "\t") && len(f) >= 2 {
			required = append(required, f[0])
		}
	}
	slices.Sort(required)
	slices.Sort(listed)
	if !slices.Equal(listed, required) {
		t.Errorf("listed:\n%q\nrequired:\n%q", listed, required)
	}
}

// listedModules are the lines of licences.tsv: module, licence, and what has packages of it.
func listedModules(t *testing.T) (list [][3]string) {
	t.Helper()
	for line := range strings.Lines(read(t, "testdata", "licences.tsv")) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		f := strings.Split(strings.TrimSpace(line), "\t")
		if len(f) != 3 {
			t.Fatalf("licences.tsv: %q", line)
		}
		list = append(list, [3]string{f[0], f[1], f[2]})
	}
	return list
}

// The program is built of the modules that are listed as its own, on every system, and has
// nothing of those that only tests or the lab use.
func TestModulesOfTheProgram(t *testing.T) {
	linked := map[string]bool{}
	for _, system := range []string{"linux", "darwin", "windows"} {
		list := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{.Path}}{{end}}", ".")
		list.Env = append(list.Environ(), "GOOS="+system, "CGO_ENABLED=0")
		out, err := list.Output()
		if err != nil {
			t.Fatalf("listing what the program is made of on %s: %v", system, err)
		}
		for _, module := range strings.Fields(string(out)) {
			linked[module] = true
		}
	}
	delete(linked, "blowdraw")
	for _, m := range listedModules(t) {
		module, user := m[0], m[2]
		if linked[module] != (user == "program") || !slices.Contains([]string{"program", "lab", "tests"}, user) {
			t.Errorf("%s is listed as used by %s; in the program: %v", module, user, linked[module])
		}
		delete(linked, module)
	}
	for module := range linked {
		t.Errorf("the program has packages of %s, which is not listed", module)
	}
}

func checkLicence(t *testing.T, module, licence string) {
	t.Helper()
	// Builds for one system don't need the modules of another, so it may not be here yet.
	out, err := exec.Command("go", "mod", "download", "-json", module).Output()
	var at struct{ Dir string }
	if err != nil || json.Unmarshal(out, &at) != nil {
		t.Fatalf("%s: %v: %s", module, err, out)
	}
	files, _ := filepath.Glob(filepath.Join(at.Dir, "*LICENSE*"))
	if len(files) == 0 || len(licenceWords[licence]) == 0 {
		t.Fatalf("%s: licence %q, files %q", module, licence, files)
	}
	text := strings.Join(strings.Fields(read(t, files[0])), " ")
	for _, words := range licenceWords[licence] {
		if !strings.Contains(text, words) {
			t.Errorf("%s: %s has no %q", module, files[0], words)
		}
	}
}

func TestVersion(t *testing.T) {
	code, stdout, stderr := command("--version")
	if code != 0 || stderr != "" || !strings.HasPrefix(stdout, "blowdraw version ") ||
		!strings.Contains(stdout, "go1.") {
		t.Errorf("exit code %d, stderr %q, stdout %q", code, stderr, stdout)
	}
}

// The completion for bash is a script that bash can read, and completes commands
// and flags.
func TestCompletion(t *testing.T) {
	code, script, stderr := command("completion", "bash")
	if code != 0 || stderr != "" {
		t.Fatalf("exit code %d, stderr %q", code, stderr)
	}
	programs.Need(t, "bash")
	bash := exec.Command("bash", "-n", put(t, t.TempDir(), "completion", []byte(script)))
	if out, err := bash.CombinedOutput(); err != nil {
		t.Errorf("%v: %s", err, out)
	}
	for want, args := range map[string][]string{"transcribe": {"tr"},
		"--overbends": {"transcribe", "--over"}} {
		if _, out, _ := command(append([]string{"__complete"}, args...)...); !strings.Contains(out, want) {
			t.Errorf("%q completes to %q", args, out)
		}
	}
}
