using Microsoft.Playwright;
using Traceability.Browser.Tests.Hosting;
using Traceability.PlantSimulator.Story;

namespace Traceability.Browser.Tests.Pages;

/// <summary>One real Chromium a test, and the ways into the service's pages that people take.</summary>
public abstract class PagesTest(CastPlant cast) : IAsyncLifetime
{
    protected const string WrongPin = "000000";

    private IPlaywright _playwright = null!;

    protected RunningPlant Running { get; } = cast.Plant;

    protected IBrowser Browser { get; private set; } = null!;

    public async Task InitializeAsync()
    {
        _playwright = await Playwright.CreateAsync();
        Browser = await _playwright.Chromium.LaunchAsync(new() { ExecutablePath = Environment.GetEnvironmentVariable("TRACE_CHROMIUM") ?? "/usr/bin/chromium", Args = ["--no-sandbox", "--disable-gpu"] });
    }

    public async Task DisposeAsync()
    {
        await Browser.DisposeAsync();
        _playwright.Dispose();
    }

    protected string Pin(Worker worker) => Running.Credentials.Person(worker.Id).Pin;

    protected Task<IResponse?> GoAsync(IPage page, string path) => page.GotoAsync(new Uri(Running.Address, path).ToString());

    protected Task<IPage> SignInAsync(Worker worker, int width = 1440, int height = 900) => SignInAsync(worker.Id, width, height);

    protected Task<IPage> SignInAsync(string person, int width = 1440, int height = 900) => SignInAsync(person, Running.Credentials.Person(person).Password, width, height);

    /// <summary>Signs in with a password; one that was given leads to the account page.</summary>
    protected async Task<IPage> SignInAsync(string person, string password, int width = 1440, int height = 900)
    {
        var page = await (await Browser.NewContextAsync(new() { ViewportSize = new() { Width = width, Height = height }, TimezoneId = "America/New_York" })).NewPageAsync();
        page.SetDefaultTimeout(20_000);
        await GoAsync(page, "/sign-in");
        await FillSignInAsync(page, person, password);
        await page.GetByRole(AriaRole.Heading, new() { NameRegex = new("^(Board|Units|Account)$") }).WaitForAsync();
        return page;
    }

    protected Task FillSignInAsync(IPage page, string person) => FillSignInAsync(page, person, Running.Credentials.Person(person).Password);

    private static async Task FillSignInAsync(IPage page, string person, string password)
    {
        await page.GetByLabel("Person id").FillAsync(person);
        await page.GetByLabel("Password").FillAsync(password);
        await page.GetByRole(AriaRole.Button, new() { Name = "Sign in" }).ClickAsync();
    }

    protected static Task PictureAsync(IPage page, string name) =>
        page.ScreenshotAsync(new() { Path = Path.Combine(RunningPlant.Screens, name + ".png"), FullPage = true });
}
