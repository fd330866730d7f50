//! Pictures of examples and of stacks of every size: nothing lies on anything else, and frames are exact differences.
