package heicwasm

import (
	"errors"
	"fmt"
	"slices"
)

// fuelGlobal is the name under which a metered module exports what is left of its fuel.
const fuelGlobal = "thatch_fuel"

// meter rewrites a WebAssembly module so that it cannot run on for ever: every function entered and every turn of a loop
// takes one unit of fuel, every copy or fill of memory one for each 64 bytes. It is taken from the tank by the slice. The
// tank is a mutable 64-bit global that is exported as thatch_fuel and starts empty; where it falls below zero the module
// traps. Whoever holds the instance fills it before a call, and sets it below zero to stop one.
//
// With every slice the module asks for no more memory, which takes it into Go and back. Go can stop a goroutine nowhere
// inside compiled WebAssembly: without that, a garbage collection would wait for the picture, and the whole program for
// the garbage collection.
//
// The runtime's own way of stopping a module calls out of it at every turn of a loop, which makes decoding several times
// slower; this costs a tenth. And a file is refused for the work it makes, not for how busy the machine is.
//
// The format is that of the WebAssembly core specification 2.0, section 5. A module that uses instructions outside it
// (threads, tail calls, exceptions, several memories) is refused. The result is checked by the runtime's own validation.
func meter(module []byte, slice int64) (out []byte, err error) {
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
	m := metering{slice: slice, tank: -1}
	importedGlobals, exported := 0, false
	section := func(id byte, body []byte) {
		out = append(out, id)
		out = appendU(out, uint64(len(body)))
		out = append(out, body...)
	}
	for in.at < len(in.b) {
		id := in.byte()
		body := in.take(int(in.u32()))
		r := &wasmReader{b: body}
		// A list grows by one entry at its end.
		grown := func(entry ...byte) {
			n := r.u32()
			section(id, slices.Concat(appendU(nil, uint64(n)+1), body[r.at:], entry))
		}
		switch id {
		case 1:
			m.params = paramCounts(r)
			r.at = 0
			grown(0x60, 0, 0) // of a function without arguments and results
		case 2:
			m.importedFunctions, importedGlobals = importsOf(r)
			section(id, body)
		case 3:
			m.types = numbers(r)
			r.at = 0
			grown(appendU(nil, uint64(len(m.params)))...)
		case 6:
			n := r.u32()
			m.tank = importedGlobals + int(n)
			// Two mutable i64 that start as i64.const 0.
			one := []byte{0x7e, 0x01, 0x42, 0x00, 0x0b}
			section(id, slices.Concat(appendU(nil, uint64(n)+2), body[r.at:], one, one))
		case 7:
			grown(appendU(slices.Concat([]byte{byte(len(fuelGlobal))}, []byte(fuelGlobal), []byte{0x03}), uint64(max(m.tank, 0)))...)
			exported = true
		case 10:
			if m.tank < 0 || !exported {
				return nil, errors.New("heicwasm: the module has no globals or no exports")
			}
			section(id, m.code(r))
		default:
			section(id, body)
		}
	}
	return out, nil
}

// numbers reads a list of numbers.
func numbers(r *wasmReader) (out []int) {
	for range r.u32() {
		out = append(out, int(r.u32()))
	}
	return out
}

// importsOf counts the functions and the globals among the imports.
func importsOf(r *wasmReader) (functions, globals int) {
	for range r.u32() {
		r.take(int(r.u32()))
		r.take(int(r.u32()))
		switch kind := r.byte(); kind {
		case 0:
			r.u32()
			functions++
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
	return functions, globals
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

// metering is what is known of a module while it is rewritten.
type metering struct {
	slice             int64
	tank              int   // the global that is exported; the next one holds what is left of the slice
	params            []int // of each type
	types             []int // of each function defined here
	importedFunctions int
}

// Instructions that are written, by their opcodes.
const (
	opIf, opEnd, opCall, opDrop, opUnreachable  = 0x04, 0x0b, 0x10, 0x1a, 0x00
	opLoop, opBrIf                              = 0x03, 0x0d
	opLocalGet, opLocalTee, opGlobalGet         = 0x20, 0x22, 0x23
	opGlobalSet, opMemoryGrow, opI32, opI64     = 0x24, 0x40, 0x41, 0x42
	opI64LtS, opI64Add, opI64Sub, opI64ShrU     = 0x53, 0x7c, 0x7d, 0x88
	opI64ExtendI32U, noResult, i32Type, fillOne = 0xad, 0x40, 0x7f, 6 // 64 bytes are 1<<fillOne
)

// code rewrites the code section.
func (m *metering) code(r *wasmReader) []byte {
	global := func(op byte, n int) []byte { return appendU([]byte{op}, uint64(n)) }
	get, set := global(opGlobalGet, m.tank+1), global(opGlobalSet, m.tank+1)
	tank, toTank := global(opGlobalGet, m.tank), global(opGlobalSet, m.tank)
	slice := appendS([]byte{opI64}, m.slice)
	belowZero := []byte{opI64, 0, opI64LtS, opIf, noResult}

	// left -= 1; if left < 0 { refill() }
	charge := slices.Concat(get, []byte{opI64, 1, opI64Sub}, set, get, belowZero,
		appendU([]byte{opCall}, uint64(m.importedFunctions+len(m.types))), []byte{opEnd})
	// do { tank -= slice; if tank < 0 { unreachable }; left += slice } while left < 0; memory.grow(0)
	refill := slices.Concat([]byte{0, opLoop, noResult}, tank, slice, []byte{opI64Sub}, toTank, tank, belowZero,
		[]byte{opUnreachable, opEnd}, get, slice, []byte{opI64Add}, set, get, []byte{opI64, 0, opI64LtS, opBrIf, 0, opEnd},
		[]byte{opI32, 0, opMemoryGrow, 0, opDrop, opEnd})

	n := r.u32()
	out := appendU(nil, uint64(n)+1)
	for i := range int(n) {
		f := &wasmReader{b: r.take(int(r.u32()))}
		if i >= len(m.types) || m.types[i] >= len(m.params) {
			panic(errWasm("a function without a type"))
		}
		locals := uint64(m.params[m.types[i]])
		groups := f.u32()
		from := f.at
		for range groups {
			locals += uint64(f.u32())
			f.byte()
		}
		// One more local, an i32, for the length of a copy or fill.
		body := appendU(nil, uint64(groups)+1)
		body = append(body, f.b[from:f.at]...)
		body = append(body, 1, i32Type)
		body = append(body, charge...)
		from = f.at
		for f.at < len(f.b) {
			start := f.at
			switch f.instruction() {
			case opensLoop:
				body = append(append(body, f.b[from:f.at]...), charge...)
				from = f.at
			case movesMemory:
				// Its length lies on top: left -= length / 64.
				body = slices.Concat(body, f.b[from:start], appendU([]byte{opLocalTee}, locals), get, appendU([]byte{opLocalGet}, locals),
					[]byte{opI64ExtendI32U, opI64, fillOne, opI64ShrU, opI64Sub}, set)
				from = start
			}
		}
		body = append(body, f.b[from:]...)
		out = appendU(out, uint64(len(body)))
		out = append(out, body...)
	}
	out = appendU(out, uint64(len(refill)))
	return append(out, refill...)
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

// appendS writes a signed number.
func appendS(b []byte, v int64) []byte {
	for v < -64 || v >= 64 {
		b = append(b, byte(v)&0x7f|0x80)
		v >>= 7
	}
	return append(b, byte(v)&0x7f)
}

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
