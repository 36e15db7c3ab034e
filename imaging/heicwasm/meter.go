package heicwasm

import (
	"errors"
	"fmt"
)

// fuelGlobal is the name under which a metered module exports what is left of its fuel.
const fuelGlobal = "thatch_fuel"

// meter rewrites a WebAssembly module so that it cannot run on for ever: every function entered and every turn of a loop
// takes one unit of fuel, every copy or fill of memory one for each 64 bytes. The fuel is a mutable 64-bit global that is
// exported as thatch_fuel and starts at zero; where it falls below zero the module traps. Whoever holds the instance sets
// the fuel before a call, and below zero to stop one.
//
// The runtime's own way of stopping a module calls out of it at every turn of a loop, which makes decoding several times
// slower; this costs less than a tenth. And a file is refused for the work it makes, not for how busy the machine is.
//
// The format is that of the WebAssembly core specification 2.0, section 5. A module that uses instructions outside it
// (threads, tail calls, exceptions, several memories) is refused. The result is checked by the runtime's own validation.
func meter(module []byte) (out []byte, err error) {
	defer func() {
		if p := recover(); p != nil {
			cut, ok := p.(errWasm)
			if !ok {
				panic(p)
			}
			out, err = nil, cut
		}
	}()
	if len(module) < 8 || string(module[:8]) != "\x00asm\x01\x00\x00\x00" {
		return nil, errors.New("heicwasm: no WebAssembly module of version 1")
	}
	in := &wasmReader{b: module, at: 8}
	out = append(make([]byte, 0, len(module)+len(module)/4), module[:8]...)
	fuel, imported := -1, 0
	exported := false
	var params []int // of each type
	var types []int  // of each function defined here
	section := func(id byte, body []byte) {
		out = append(out, id)
		out = appendU(out, uint64(len(body)))
		out = append(out, body...)
	}
	for in.at < len(in.b) {
		id := in.byte()
		body := in.take(int(in.u32()))
		r := &wasmReader{b: body}
		switch id {
		case 1:
			params = paramCounts(r)
			section(id, body)
		case 3:
			for range r.u32() {
				types = append(types, int(r.u32()))
			}
			section(id, body)
		case 2:
			imported = importedGlobals(r)
			section(id, body)
		case 6:
			n := r.u32()
			fuel = imported + int(n)
			grown := appendU(nil, uint64(n)+1)
			grown = append(grown, body[r.at:]...)
			// A mutable i64 that starts as i64.const 0.
			section(id, append(grown, 0x7e, 0x01, 0x42, 0x00, 0x0b))
		case 7:
			n := r.u32()
			grown := appendU(nil, uint64(n)+1)
			grown = append(grown, body[r.at:]...)
			grown = append(appendU(grown, uint64(len(fuelGlobal))), fuelGlobal...)
			section(id, appendU(append(grown, 0x03), uint64(max(fuel, 0))))
			exported = true
		case 10:
			if fuel < 0 || !exported {
				return nil, errors.New("heicwasm: the module has no globals or no exports")
			}
			section(id, meterCode(r, uint64(fuel), params, types))
		default:
			section(id, body)
		}
	}
	return out, nil
}

// importedGlobals counts the globals among the imports.
func importedGlobals(r *wasmReader) int {
	globals := 0
	for range r.u32() {
		r.take(int(r.u32()))
		r.take(int(r.u32()))
		switch kind := r.byte(); kind {
		case 0: // function
			r.u32()
		case 1: // table
			r.byte()
			r.limits()
		case 2: // memory
			r.limits()
		case 3:
			r.take(2)
			globals++
		default:
			panic(errWasm(fmt.Sprintf("import of kind %d", kind)))
		}
	}
	return globals
}

// paramCounts reads the type section: how many parameters each type of function has.
func paramCounts(r *wasmReader) (counts []int) {
	for range r.u32() {
		if r.byte() != 0x60 {
			panic(errWasm("a type that is no function's"))
		}
		n := int(r.u32())
		r.take(n)
		r.take(int(r.u32()))
		counts = append(counts, n)
	}
	return counts
}

// meterCode rewrites the code section.
func meterCode(r *wasmReader, fuel uint64, params, types []int) []byte {
	// fuel -= 1; if fuel < 0 { unreachable }
	var charge []byte
	charge = appendU(append(charge, 0x23), fuel)
	charge = append(charge, 0x42, 0x01, 0x7d)
	charge = appendU(append(charge, 0x24), fuel)
	charge = appendU(append(charge, 0x23), fuel)
	charge = append(charge, 0x42, 0x00, 0x53, 0x04, 0x40, 0x00, 0x0b)

	n := r.u32()
	out := appendU(nil, uint64(n))
	for i := range int(n) {
		f := &wasmReader{b: r.take(int(r.u32()))}
		if i >= len(types) || types[i] >= len(params) {
			panic(errWasm("a function without a type"))
		}
		locals := uint64(params[types[i]])
		groups := f.u32()
		from := f.at
		for range groups {
			locals += uint64(f.u32())
			f.byte()
		}
		// One more local, an i32, for the length of a copy or fill.
		body := appendU(nil, uint64(groups)+1)
		body = append(body, f.b[from:f.at]...)
		body = append(body, 0x01, 0x7f)
		body = append(body, charge...)
		from = f.at
		for f.at < len(f.b) {
			start := f.at
			switch f.instruction() {
			case opensLoop:
				body = append(append(body, f.b[from:f.at]...), charge...)
				from = f.at
			case movesMemory:
				// Its length lies on top: fuel -= length / 64.
				body = append(body, f.b[from:start]...)
				body = appendU(append(body, 0x22), locals)
				body = appendU(append(body, 0x23), fuel)
				body = appendU(append(body, 0x20), locals)
				body = append(body, 0xad, 0x42, 0x06, 0x88, 0x7d)
				body = appendU(append(body, 0x24), fuel)
				from = start
			}
		}
		body = append(body, f.b[from:]...)
		out = appendU(out, uint64(len(body)))
		out = append(out, body...)
	}
	return out
}

// errWasm says what of the module is not understood.
type errWasm string

func (e errWasm) Error() string { return "heicwasm: the module cannot be metered: " + string(e) }

// wasmReader reads a module; where it ends early or is not understood, it panics with an errWasm.
type wasmReader struct {
	b  []byte
	at int
}

func (r *wasmReader) byte() byte { return r.take(1)[0] }

func (r *wasmReader) take(n int) []byte {
	if n < 0 || n > len(r.b)-r.at {
		panic(errWasm("it ends early"))
	}
	r.at += n
	return r.b[r.at-n : r.at]
}

// leb steps over one LEB128 number.
func (r *wasmReader) leb() {
	for range 10 {
		if r.byte() < 0x80 {
			return
		}
	}
	panic(errWasm("a number is too long"))
}

func (r *wasmReader) u32() uint32 {
	var v uint64
	for shift := 0; shift < 35; shift += 7 {
		b := r.byte()
		v |= uint64(b&0x7f) << shift
		if b < 0x80 {
			if v > 1<<32-1 {
				break
			}
			return uint32(v)
		}
	}
	panic(errWasm("a number is too large"))
}

func (r *wasmReader) limits() {
	if r.byte()&1 == 1 {
		r.u32()
	}
	r.u32()
}

// memarg is the alignment and offset of a load or store.
func (r *wasmReader) memarg() {
	if r.u32() >= 64 {
		panic(errWasm("several memories"))
	}
	r.leb()
}

func appendU(b []byte, v uint64) []byte {
	for ; v >= 0x80; v >>= 7 {
		b = append(b, byte(v)|0x80)
	}
	return append(b, byte(v))
}

// What of an instruction matters here.
const (
	plain       = iota
	opensLoop   // loop
	movesMemory // memory.copy, memory.fill
)

// instruction steps over one instruction. Opcodes: core specification 2.0, section 5.4.
func (r *wasmReader) instruction() int {
	switch op := r.byte(); {
	case op == 0x02 || op == 0x03 || op == 0x04: // block, loop, if
		r.leb()
		if op == 0x03 {
			return opensLoop
		}
	case op == 0x00 || op == 0x01 || op == 0x05 || op == 0x0b || op == 0x0f || op == 0x1a || op == 0x1b || op == 0xd1:
	case op == 0x0c || op == 0x0d || op == 0x10 || op >= 0x20 && op <= 0x26 || op == 0xd2: // br, br_if, call, variables, tables, ref.func
		r.leb()
	case op == 0x0e: // br_table
		for range r.u32() {
			r.leb()
		}
		r.leb()
	case op == 0x11: // call_indirect
		r.leb()
		r.leb()
	case op == 0x1c: // select with types
		r.take(int(r.u32()))
	case op >= 0x28 && op <= 0x3e: // loads and stores
		r.memarg()
	case op == 0x3f || op == 0x40 || op == 0xd0: // memory.size, memory.grow, ref.null
		r.byte()
	case op == 0x41 || op == 0x42: // integer constants
		r.leb()
	case op == 0x43:
		r.take(4)
	case op == 0x44:
		r.take(8)
	case op >= 0x45 && op <= 0xc4: // arithmetic
	case op == 0xfc:
		return r.bulk()
	case op == 0xfd:
		r.vector()
	default:
		panic(errWasm(fmt.Sprintf("opcode %#x", op)))
	}
	return plain
}

// bulk steps over the rest of an instruction that begins with 0xfc.
func (r *wasmReader) bulk() int {
	immediates := [...]int{8: 2, 9: 1, 10: 2, 11: 1, 12: 2, 13: 1, 14: 2, 15: 1, 16: 1, 17: 1}
	sub := int(r.u32())
	if sub >= len(immediates) {
		panic(errWasm(fmt.Sprintf("opcode 0xfc %d", sub)))
	}
	for range immediates[sub] {
		r.leb()
	}
	if sub == 10 || sub == 11 {
		return movesMemory
	}
	return plain
}

// vector steps over the rest of an instruction that begins with 0xfd.
func (r *wasmReader) vector() {
	switch sub := r.u32(); {
	case sub <= 11 || sub == 92 || sub == 93: // loads and stores
		r.memarg()
	case sub == 12 || sub == 13: // a constant, a shuffle
		r.take(16)
	case sub >= 21 && sub <= 34: // lanes
		r.byte()
	case sub >= 84 && sub <= 91: // loads and stores of lanes
		r.memarg()
		r.byte()
	case sub > 255:
		panic(errWasm(fmt.Sprintf("opcode 0xfd %d", sub)))
	}
}
