package heicwasm

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"os"
)

// ModuleVariable names a WebAssembly file (plain or gzipped) that is used instead of the one inside the program. It must
// export memory, malloc, free and decode as v0.4.5/heif.c does.
const ModuleVariable = "THATCH_HEIF_WASM"

// moduleSHA256 is of heif.wasm.gz as its makers published it.
const moduleSHA256 = "3634a6447ea3915633667f39e01ff540a60f4e2f837a8391d044d76dfd8a0435"

// maxModuleBytes bounds a module that the user brings.
const maxModuleBytes = 64 << 20

//go:embed v0.4.5/heif.wasm.gz
var embedded []byte

// module is the WebAssembly code to run.
func module() ([]byte, error) {
	b := embedded
	if name := os.Getenv(ModuleVariable); name != "" {
		var err error
		if b, err = readAtMost(name, maxModuleBytes); err != nil {
			return nil, fmt.Errorf("heicwasm: %s: %w", ModuleVariable, err)
		}
	}
	if !bytes.HasPrefix(b, []byte{0x1f, 0x8b}) {
		return b, nil
	}
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	b, err = io.ReadAll(io.LimitReader(z, maxModuleBytes+1))
	if err == nil && len(b) > maxModuleBytes {
		err = errors.New("heicwasm: the module is too large")
	}
	return b, err
}

func readAtMost(name string, most int64) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer func() { _ = f.Close() }()
	b, err := io.ReadAll(io.LimitReader(f, most+1))
	if err == nil && int64(len(b)) > most {
		err = errors.New("the file is too large")
	}
	return b, err
}
