"""The web app: ``streamlit run app.py``."""

# worker processes read this file as well; they draw nothing, and load no more than they need
if __name__ == "__main__":
    from shopsim.app.main import show_app

    show_app()
