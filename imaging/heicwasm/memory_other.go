//go:build !linux && !darwin

package heicwasm

import "github.com/tetratelabs/wazero/experimental"

func reserve(uint64) experimental.LinearMemory { return nil }
