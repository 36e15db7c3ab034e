//go:build linux

package imaging

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"thatch/timeline/outside"
)

const envMakeOne = "THATCH_TEST_MAKE_ONE"

// TestMain lets the comparison below run one photo in a process of its own.
func TestMain(m *testing.M) {
	file := os.Getenv(envMakeOne)
	if file == "" {
		os.Exit(m.Run())
	}
	f, err := os.Open(file)
	if err == nil {
		var info os.FileInfo
		if info, err = f.Stat(); err == nil {
			_, err = Make(context.Background(), f, info.Size(), Facts{})
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(0)
}

// The cost of a 12 MP photo (4:2:0, orientation 6, Display P3) to 2016 px and 512 px at quality 85, in processor time,
// beside libvips doing the same in the same run (vipsthumbnail of Debian's libvips-tools; the small one from whichever is
// cheaper, the photo or the large one):
//
//	go test -run '^$' -bench BesideLibvips -benchtime 10x ./imaging
//
// "ours" is what a server that is running spends; "fresh" is a process of its own, from its start to its end, as libvips'
// figures are.
func BenchmarkBesideLibvips(b *testing.B) {
	vips := outside.Tool(b, "vipsthumbnail", "libvips-tools")
	photo := benchPhoto(b)
	dir := b.TempDir()
	in, view, thumb := filepath.Join(dir, "in.jpg"), filepath.Join(dir, "view.jpg"), filepath.Join(dir, "thumb.jpg")
	if err := os.WriteFile(in, photo, 0o600); err != nil {
		b.Fatal(err)
	}
	run := func(cmd *exec.Cmd) (cpu time.Duration, peakKB int64) {
		if out, err := cmd.CombinedOutput(); err != nil {
			b.Fatalf("%v: %s", err, out)
		}
		use := cmd.ProcessState.SysUsage().(*syscall.Rusage)
		return cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime(), use.Maxrss
	}
	shrink := func(from, to string, px int) time.Duration {
		cpu, _ := run(exec.Command(vips, from, "-s", fmt.Sprintf("%dx%d", px, px), "--eprofile", "srgb", "-o", to+"[Q=85,strip]"))
		return cpu
	}
	self, err := os.Executable()
	if err != nil {
		b.Fatal(err)
	}
	var ours, fresh, theirs time.Duration
	var peak int64
	n := 0
	for b.Loop() {
		n++
		before := processorTime()
		if _, err := Make(b.Context(), bytes.NewReader(photo), int64(len(photo)), Facts{}); err != nil {
			b.Fatal(err)
		}
		ours += processorTime() - before

		one := exec.Command(self)
		one.Env = append(os.Environ(), envMakeOne+"="+in)
		cpu, kb := run(one)
		fresh, peak = fresh+cpu, max(peak, kb)

		theirs += shrink(in, view, ViewPX) + min(shrink(in, thumb, ThumbPX), shrink(view, thumb, ThumbPX))
	}
	ms := func(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 / float64(n) }
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(ms(ours), "ours-ms")
	b.ReportMetric(ms(fresh), "fresh-ms")
	b.ReportMetric(ms(theirs), "libvips-ms")
	b.ReportMetric(float64(ours)/float64(theirs), "ours/libvips")
	b.ReportMetric(float64(fresh)/float64(theirs), "fresh/libvips")
	b.ReportMetric(float64(peak)/1024, "fresh-peak-MiB")
}

// processorTime is what this process has used so far.
func processorTime() time.Duration {
	var use syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &use)
	return time.Duration(use.Utime.Nano() + use.Stime.Nano())
}
