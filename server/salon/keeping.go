package salon

import (
	"context"

	"thatch/store"
)

// Verify reads everything that a data folder or a backup keeps. It needs no open salon: a damaged one does not open.
func Verify(ctx context.Context, dir string, progress func(done, total int, what string)) (store.VerifyReport, error) {
	return store.Verify(ctx, dir, store.VerifyOptions{Progress: progress})
}

// Backup copies the salon of a data folder, which may be open and in use, and is left as it is: one of an older version is
// copied as such.
func Backup(ctx context.Context, dir, dest string, opt store.BackupOptions) (store.BackupReport, error) {
	return store.Backup(ctx, dir, dest, opt)
}

// Restore builds a new data folder from a backup.
func Restore(ctx context.Context, src, dir string, opt store.RestoreOptions) (store.RestoreReport, error) {
	return store.Restore(ctx, src, dir, opt)
}
