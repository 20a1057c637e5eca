"""The guided proof test: one person at the rig, the scan's own inputs watched over the link."""
