"""What the law and the practice ask: rule files read, checked, chosen by place and date, and compiled."""
