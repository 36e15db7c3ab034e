package store

import "context"

// HealOriginal puts a received file in the place of its original where that one is gone or has gone bad; the Incoming stays
// the caller's to discard. Of an original that is not known nothing is done.
func (s *Store) HealOriginal(ctx context.Context, in *Incoming) error {
	if got, err := hashFile(ctx, s.fs, s.originalPath(in.SHA256)); err == nil && got.SHA256 == in.SHA256 {
		return nil // without holding others up
	}
	return s.write(ctx, "heal original "+in.SHA256, func(t tx) error {
		var known int
		if err := t.row(countOriginal, in.SHA256).Scan(&known); err != nil || known == 0 {
			return err
		}
		_, err := s.place(in, true)
		return err
	})
}
