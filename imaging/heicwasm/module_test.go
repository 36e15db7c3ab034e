package heicwasm

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// Check, kind E: the vendored files are those that their makers published, by the checksums written down with them.
func TestVendoredFilesAreAsPublished(t *testing.T) {
	readme, err := os.ReadFile("v0.4.5/README.md")
	if err != nil {
		t.Fatal(err)
	}
	sums := regexp.MustCompile(`(?m)^ {4}([0-9a-f]{64})  (\S+)$`).FindAllStringSubmatch(string(readme), -1)
	files, err := os.ReadDir("v0.4.5")
	if err != nil || len(sums) != len(files)-1 {
		t.Fatalf("%d checksums for %d files, %v", len(sums), len(files)-1, err)
	}
	for _, s := range sums {
		b, err := os.ReadFile(filepath.Join("v0.4.5", s[2]))
		if err != nil {
			t.Fatal(err)
		}
		if got := sha256.Sum256(b); hex.EncodeToString(got[:]) != s[1] {
			t.Errorf("%s is another file", s[2])
		}
	}
	if got := sha256.Sum256(embedded); hex.EncodeToString(got[:]) != moduleSHA256 {
		t.Error("the module inside the program is another file")
	}
}

func TestLicencesAreHandedOn(t *testing.T) {
	got := Licences()
	for _, want := range []string{
		"GNU LESSER GENERAL PUBLIC LICENSE\n                       Version 3", "GNU GENERAL PUBLIC LICENSE\n                       Version 3",
		"Apache License\n                           Version 2.0", "Copyright 2020-2023 wazero authors", "Copyright (c) 2024 gen2brain",
		ModuleVariable, "tag v1.18.2", "tag v1.0.15",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("it does not say %q", want)
		}
	}
}

func TestAUsersModuleIsUsedInstead(t *testing.T) {
	z, err := gzip.NewReader(bytes.NewReader(embedded))
	if err != nil {
		t.Fatal(err)
	}
	var plain bytes.Buffer
	if _, err := plain.ReadFrom(z); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	write := func(name string, b []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	file, err := os.ReadFile("../testdata/heic/phantom.heic")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, path string
		works      bool
	}{
		{"plain", write("a.wasm", plain.Bytes()), true},
		{"gzipped", write("a.wasm.gz", embedded), true},
		{"absent", filepath.Join(dir, "none"), false},
		{"text", write("b.wasm", []byte("not a module")), false},
		{"cut off", write("c.wasm", plain.Bytes()[:plain.Len()/2]), false},
		{"gzip cut off", write("c.wasm.gz", embedded[:len(embedded)/2]), false},
		{"of another kind", write("d.wasm", moduleOf(0x0b)), false},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Setenv(ModuleVariable, c.path)
			_, err := newEngine(fuelSlice).Decode(context.Background(), bytes.NewReader(file), int64(len(file)), 320*240)
			if c.works != (err == nil) || !c.works && !errors.Is(err, ErrModule) {
				t.Error(err)
			}
		})
	}
}
