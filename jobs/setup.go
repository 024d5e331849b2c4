package jobs

// FrameRows of one frame to discard: whole repeats until they reach Reach.
func (s SetupFrames) FrameRows(pitch Length) int {
	if pitch <= 0 {
		return 0
	}
	return int((s.Reach + pitch - 1) / pitch)
}

// Rows to discard before anything is measured.
func (s SetupFrames) Rows(pitch Length) int { return s.Discard * s.FrameRows(pitch) }

// SetupLength is the web that a set-up uses: as stated, or the frames to
// discard at this pitch.
func (p Press) SetupLength(pitch Length) Length {
	if p.SetupWeb == 0 && p.SetupFrames != nil {
		return Length(p.SetupFrames.Rows(pitch)) * pitch
	}
	return p.SetupWeb
}
