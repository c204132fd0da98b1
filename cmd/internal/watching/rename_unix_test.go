//go:build unix

package watching

import "testing"

func TestLink(t *testing.T) { testMove(t, linkNew) }
