package main

import (
	"context"
	"runtime"
	"runtime/debug"

	"thatch/imaging"
)

type versionCmd struct {
	Licences bool `help:"${cmd_help_version_licences}"`
}

// Run prints what the build itself knows: module version, commit, toolchain.
func (c versionCmd) Run(ctx context.Context, s streams) error {
	s.printf("%s %s %s/%s\n", programVersion(), runtime.Version(), runtime.GOOS, runtime.GOARCH)
	if c.Licences {
		s.printf("\n%s", imaging.Licences())
	}
	return nil
}

// programVersion is what the build itself knows: "thatch", version, commit.
func programVersion() string {
	version, commit := "devel", ""
	if info, ok := debug.ReadBuildInfo(); ok {
		if v := info.Main.Version; v != "" && v != "(devel)" {
			version = v
		}
		for _, kv := range info.Settings {
			if kv.Key == "vcs.revision" && len(kv.Value) >= 12 {
				commit = " " + kv.Value[:12]
			}
		}
	}
	return "thatch " + version + commit
}
