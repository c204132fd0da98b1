package mirrored_test

import (
	"testing"

	"peelcheck/preflight/rules/mirrored"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, mirrored.Rule) }
