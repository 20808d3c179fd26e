"""The parts that the demo logs are made of; see make_demo_logs.py beside this folder."""
