package pinhole_test

import (
	"testing"

	"peelcheck/preflight/rules/pinhole"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, pinhole.Rule) }
