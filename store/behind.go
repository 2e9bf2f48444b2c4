package store

// behind runs work beside the caller, one piece at a time: what one core
// prepares, another brings into the file. The zero value is ready.
type behind struct{ ended chan error }

// run starts work once the piece before it has ended, and returns that one's
// error; then the new piece is not started.
func (b *behind) run(work func() error) error {
	if err := b.wait(); err != nil {
		return err
	}
	ended := make(chan error, 1)
	b.ended = ended
	go func() { ended <- work() }()
	return nil
}

// wait waits for the end of the latest piece.
func (b *behind) wait() error {
	if b.ended == nil {
		return nil
	}
	err := <-b.ended
	b.ended = nil
	return err
}
