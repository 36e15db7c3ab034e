package main

import (
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"thatch/cmd/thatch/tested"
)

// TestMain also lets the test binary be the commands that stories call.
func TestMain(m *testing.M) { testscript.Main(tested.Clean{M: m}, commandsOfStories()) }
