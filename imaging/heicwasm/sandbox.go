package heicwasm

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"

	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/api"
	"github.com/tetratelabs/wazero/experimental"
	"github.com/tetratelabs/wazero/imports/wasi_snapshot_preview1"
	"golang.org/x/sync/semaphore"
)

// Errors that Decode returns, wrapped.
var (
	ErrModule = errors.New("heicwasm: the decoder cannot be started") // the module is not one, or not ours
	ErrFile   = errors.New("heicwasm: the file cannot be decoded")    // it is damaged, or is none
	ErrKind   = errors.New("heicwasm: a picture of a rare kind")
	ErrLimit  = errors.New("heicwasm: the file takes more memory or work than a picture of its size does")
)

// maxMemoryPages is the most that any picture may take, in WebAssembly's pages of 64 KiB: 1.5 GiB.
const maxMemoryPages = 24 << 10

// limits of one picture.
type limits struct {
	memory uint64 // bytes
	fuel   int64  // as meter counts it
}

// limitsOf gives a picture of so many pixels, coded in so many bytes, several times what it needs. Measured: pictures of
// 8 bits and 4:2:0 take 7 to 8 bytes of memory and 26 of fuel a pixel; 12 bits and 4:2:2, 17 and 33; 8 bits and 4:4:4,
// 13 and 32; heavier coding, 6 to 12 of fuel for each byte more.
func limitsOf(pixels, fileBytes int64) limits {
	return limits{
		memory: min(uint64(32<<20+24*pixels+2*fileBytes), maxMemoryPages<<16),
		fuel:   20_000_000 + 150*pixels + 60*fileBytes,
	}
}

// engine holds the compiled module. It stays: it takes less than 10 MB and saves half a second a picture.
type engine struct {
	turn     *semaphore.Weighted // one picture at a time
	slice    int64               // of fuel: how long a picture keeps Go waiting
	runtime  wazero.Runtime
	compiled wazero.CompiledModule
}

// fuelSlice is about a millisecond's.
const fuelSlice = 200_000

var shared = newEngine(fuelSlice)

func newEngine(slice int64) *engine { return &engine{turn: semaphore.NewWeighted(1), slice: slice} }

// start compiles the module, once. The turn is held.
func (e *engine) start() error {
	if e.compiled != nil {
		return nil
	}
	code, err := module()
	if err != nil {
		return err
	}
	metered, err := meter(code, e.slice)
	if err != nil {
		return err
	}
	ctx := context.Background() // of the process, not of a picture
	rt := wazero.NewRuntimeWithConfig(ctx, wazero.NewRuntimeConfig().WithMemoryLimitPages(maxMemoryPages).WithDebugInfoEnabled(false))
	compiled, err := rt.CompileModule(ctx, metered)
	if err == nil {
		_, err = wasi_snapshot_preview1.Instantiate(ctx, rt)
	}
	if err != nil {
		_ = rt.Close(ctx)
		return err
	}
	e.runtime, e.compiled = rt, compiled
	return nil
}

// instance is a module with a memory of its own, for one picture.
type instance struct {
	mod  api.Module
	ctx  context.Context
	stop func() bool
	over chan struct{}  // closed when the instance is
	busy sync.WaitGroup // of whoever stops it

	mu   sync.Mutex // between those who read and write the fuel here; the module itself asks nobody
	fuel api.MutableGlobal
}

// instantiate sets up a fresh instance. When ctx is done, whatever it runs is stopped.
func (e *engine) instantiate(ctx context.Context, lim limits) (*instance, error) {
	inner := context.WithoutCancel(ctx) // wazero asks for values only; stopping is done by fuel
	mod, err := e.runtime.InstantiateModule(experimental.WithMemoryAllocator(inner, bounded(lim.memory)), e.compiled,
		wazero.NewModuleConfig().WithName("").WithStartFunctions())
	if err != nil {
		return nil, err
	}
	fuel, ok := mod.ExportedGlobal(fuelGlobal).(api.MutableGlobal)
	if !ok || mod.Memory() == nil {
		_ = mod.Close(inner)
		return nil, errors.New("heicwasm: the module exports no memory")
	}
	in := &instance{mod: mod, fuel: fuel, ctx: inner, over: make(chan struct{})}
	in.setFuel(lim.fuel)
	in.busy.Add(1)
	in.stop = context.AfterFunc(ctx, func() {
		defer in.busy.Done()
		// The module may be between reading the tank and writing it, so that one write can be lost.
		for {
			select {
			case <-in.over:
				return
			default:
				in.setFuel(-1)
				runtime.Gosched()
			}
		}
	})
	if init := mod.ExportedFunction("_initialize"); init != nil {
		if _, err := init.Call(inner); err != nil {
			in.close()
			return nil, err
		}
	}
	return in, nil
}

func (in *instance) setFuel(n int64) {
	in.mu.Lock()
	defer in.mu.Unlock()
	in.fuel.Set(api.EncodeI64(n))
}

// left is the fuel that is left; below zero, the module has been stopped.
func (in *instance) left() int64 {
	in.mu.Lock()
	defer in.mu.Unlock()
	return int64(in.fuel.Get())
}

func (in *instance) close() {
	close(in.over)
	if in.stop() {
		in.busy.Done() // nobody will
	}
	in.busy.Wait()
	_ = in.mod.Close(in.ctx)
}

// call calls a function of the module that returns one 32-bit number.
func (in *instance) call(name string, args ...uint64) (uint32, error) {
	f := in.mod.ExportedFunction(name)
	if f == nil {
		return 0, fmt.Errorf("%w: it exports no %s", ErrModule, name)
	}
	if n := f.Definition(); len(n.ParamTypes()) != len(args) || len(n.ResultTypes()) != 1 {
		return 0, fmt.Errorf("%w: its %s takes other arguments", ErrModule, name)
	}
	out, err := f.Call(in.ctx, args...)
	if err != nil {
		if in.left() < 0 {
			return 0, fmt.Errorf("%w: %w", ErrLimit, err)
		}
		return 0, fmt.Errorf("%w: %w", ErrFile, err)
	}
	return uint32(out[0]), nil
}

// alloc returns a block of the module's memory, and a view of it that holds until the memory grows.
func (in *instance) alloc(size uint64) (uint32, []byte, error) {
	if size >= maxMemoryPages<<16 {
		return 0, nil, ErrLimit
	}
	p, err := in.call("malloc", size)
	if err != nil {
		return 0, nil, err
	}
	if p == 0 {
		return 0, nil, fmt.Errorf("%w: no memory", ErrLimit)
	}
	b, ok := in.mod.Memory().Read(p, uint32(size))
	if !ok {
		return 0, nil, fmt.Errorf("%w: its malloc is wrong", ErrModule)
	}
	return p, b, nil
}
