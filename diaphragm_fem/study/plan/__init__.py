"""What a study is before its first case runs: what varies, which values a case takes, what is ruled out."""
