"""The web app: ``streamlit run app.py``."""

from shopsim.app.main import show_app

if __name__ == "__main__":  # worker processes read this file as well, and draw nothing
    show_app()
