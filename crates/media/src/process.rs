//! One child process: never a shell, never waited for without end, never left behind.
