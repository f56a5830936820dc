using System.Net;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Pages;

/// <summary>Pages open to signed-on people only, by a form that another site cannot send.</summary>
public sealed class Signing_in : IAsyncLifetime
{
    private PlantHost _host = null!;
    private HttpClient _http = null!;

    public async Task InitializeAsync()
    {
        _host = await PlantHost.StartAsync(false, ["web"], "--Plant:Name=Invented Yard Nine");
        _http = new HttpClient(new HttpClientHandler { AllowAutoRedirect = false }) { BaseAddress = _host.Address };
    }

    public async Task DisposeAsync()
    {
        _http.Dispose();
        await _host.DisposeAsync();
    }

    private (string, string)[] Form(string password, string then = "/units") => [("person", Plant.Inspector.Id), ("password", password), ("then", then)];

    private string Password => _host.Credentials.Person(Plant.Inspector.Id).Password;

    [Theory]
    [InlineData("/")]
    [InlineData("/units")]
    [InlineData("/units/RF-0001")]
    [InlineData("/subjects/lot:mill-a/1")]
    [InlineData("/records/00000000-0000-0000-0000-000000000001")]
    [InlineData("/quarantine")]
    [InlineData("/parked")]
    public async Task A_visitor_who_is_not_signed_in_is_sent_to_the_form(string path)
    {
        using var answer = await _http.GetAsync(path);
        Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
        Assert.Equal("/sign-in", answer.Headers.Location!.AbsolutePath);
    }

    [Fact]
    public async Task The_form_signs_in_and_leads_on_and_the_header_says_who_and_where()
    {
        using var answer = await _http.PostFormAsync("/sign-in", "/sign-in", Form(Password));
        Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
        Assert.Equal("/units", answer.Headers.Location!.OriginalString);

        var text = PageVisitor.Text((await _http.PageAsync("/")).Html);
        Assert.Contains(Plant.Inspector.Id, text, StringComparison.Ordinal);
        Assert.Contains("Invented Yard Nine", text, StringComparison.Ordinal);
        Assert.DoesNotContain("scenario clock", text, StringComparison.Ordinal);

        using var gone = await _http.PostFormAsync("/", "/sign-out");
        Assert.Equal(HttpStatusCode.Redirect, gone.StatusCode);
        Assert.Equal(HttpStatusCode.Redirect, (await _http.PageAsync("/")).Status);
    }

    [Fact]
    public async Task A_wrong_password_is_refused_in_words_and_nobody_is_signed_in()
    {
        using var answer = await _http.PostFormAsync("/sign-in", "/sign-in", Form(Password + "x"));
        Assert.Equal(HttpStatusCode.Unauthorized, answer.StatusCode);
        Assert.Contains("is not right", await answer.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.Redirect, (await _http.PageAsync("/")).Status);
    }

    [Fact]
    public async Task A_form_without_this_sites_token_is_refused()
    {
        using var answer = await _http.PostAsync("/sign-in", new FormUrlEncodedContent(Form(Password).Select(f => KeyValuePair.Create(f.Item1, f.Item2))));
        Assert.Equal(HttpStatusCode.BadRequest, answer.StatusCode);
        Assert.Equal(HttpStatusCode.Redirect, (await _http.PageAsync("/")).Status);
    }

    [Theory]
    [InlineData("https://elsewhere.example/")]
    [InlineData("//elsewhere.example/")]
    public async Task Signing_in_never_leads_to_another_site(string then)
    {
        using var answer = await _http.PostFormAsync("/sign-in", "/sign-in", Form(Password, then));
        Assert.Equal("/", answer.Headers.Location!.OriginalString);
    }

    [Fact]
    public async Task Facts_set_apart_are_for_the_administrator_alone()
    {
        using var inspector = await _host.SignInAsync(Plant.Inspector);
        foreach (var path in new[] { "/quarantine", "/parked" })
        {
            using var answer = await inspector.GetAsync(path);
            Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
            Assert.Equal("/not-allowed", answer.Headers.Location!.AbsolutePath);
        }

        Assert.Equal(HttpStatusCode.Forbidden, (await inspector.PageAsync("/not-allowed")).Status);
        using var administrator = await _host.SignInAsync(Plant.Administrator);
        Assert.Equal(HttpStatusCode.OK, (await administrator.PageAsync("/quarantine")).Status);
        Assert.Equal(HttpStatusCode.OK, (await administrator.PageAsync("/parked")).Status);
    }
}
