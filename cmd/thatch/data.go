package main

import (
	"context"
	"os"
	"path/filepath"
	"runtime"

	"thatch/server/salon"
	"thatch/store"
)

// dataFlag is where a salon lies.
type dataFlag struct {
	Data string `help:"${cmd_help_data_data}" placeholder:"DIR" type:"path"`
}

func (d dataFlag) folder() string {
	if d.Data != "" {
		return d.Data
	}
	return defaultDataFolder()
}

// open opens the salon; mustExist refuses a folder without one instead of making it.
func (d dataFlag) open(ctx context.Context, mustExist bool) (*store.Store, *salon.Salon, error) {
	return d.openWith(ctx, store.Options{MustExist: mustExist})
}

func (d dataFlag) openWith(ctx context.Context, opt store.Options) (*store.Store, *salon.Salon, error) {
	st, err := store.Open(ctx, d.folder(), opt)
	if err != nil {
		return nil, nil, err
	}
	return st, salon.New(st, salon.Options{}), nil
}

// defaultDataFolder follows the platform: XDG Base Directory Specification, Apple's File System Programming Guide,
// Microsoft's known folders.
func defaultDataFolder() string {
	home, err := os.UserHomeDir()
	if err != nil {
		home = "."
	}
	switch runtime.GOOS {
	case "windows":
		if dir := os.Getenv("LocalAppData"); dir != "" {
			return filepath.Join(dir, "Thatch")
		}
		return filepath.Join(home, "AppData", "Local", "Thatch")
	case "darwin":
		return filepath.Join(home, "Library", "Application Support", "Thatch")
	}
	if dir := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(dir) {
		return filepath.Join(dir, "thatch")
	}
	return filepath.Join(home, ".local", "share", "thatch")
}
