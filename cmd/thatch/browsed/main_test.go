package browsed

import (
	"os"
	"testing"

	"thatch/cmd/thatch/tested"
)

func TestMain(m *testing.M) { os.Exit(tested.Clean{M: m}.Run()) }
