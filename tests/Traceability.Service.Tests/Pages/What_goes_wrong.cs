using System.Net;
using System.Net.Http.Headers;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Pages;

/// <summary>A browser is answered by a page whatever goes wrong; a program by a problem in JSON.</summary>
public sealed class What_goes_wrong : IAsyncLifetime
{
    private PlantHost _host = null!;

    public async Task InitializeAsync() => _host = await PlantHost.StartAsync(false, ["web"]);

    public async Task DisposeAsync() => await _host.DisposeAsync();

    private static async Task<(HttpStatusCode Status, string? Type, string Body)> AskAsync(HttpClient http, HttpMethod method, string path, string accept)
    {
        using var request = new HttpRequestMessage(method, new Uri(path, UriKind.Relative));
        request.Headers.Accept.Add(MediaTypeWithQualityHeaderValue.Parse(accept));
        if (method == HttpMethod.Post) request.Content = new FormUrlEncodedContent([KeyValuePair.Create("password", "x")]);
        using var answer = await http.SendAsync(request);
        return (answer.StatusCode, answer.Content.Headers.ContentType?.MediaType, await answer.Content.ReadAsStringAsync());
    }

    private static async Task BothAsync(HttpClient http, HttpMethod method, string path, HttpStatusCode status, string heading)
    {
        var page = await AskAsync(http, method, path, "text/html");
        Assert.Equal((status, "text/html"), (page.Status, page.Type));
        Assert.Contains($"<h1>{heading}</h1>", page.Body, StringComparison.Ordinal);
        Assert.DoesNotContain("Exception", page.Body, StringComparison.Ordinal);
        var problem = await AskAsync(http, method, path, "application/json");
        Assert.Equal((status, "application/problem+json"), (problem.Status, problem.Type));
    }

    [Fact]
    public async Task An_unknown_address_and_a_form_without_its_token_are_answered_by_a_page()
    {
        using var http = await _host.SignInAsync(Plant.Auditor);
        await BothAsync(http, HttpMethod.Get, "/no/such/page", HttpStatusCode.NotFound, "There is no such page");
        await BothAsync(http, HttpMethod.Post, "/account", HttpStatusCode.BadRequest, "This form was not taken");
        await BothAsync(http, HttpMethod.Get, "/v1/people", HttpStatusCode.Forbidden, "This is not open to you");
        using var nobody = new HttpClient { BaseAddress = _host.Address };
        await BothAsync(nobody, HttpMethod.Get, "/v1/people", HttpStatusCode.Unauthorized, "You are not signed in");
    }

    [Fact]
    public async Task Another_roles_page_says_whose_it_is()
    {
        using var http = await _host.SignInAsync(Plant.Auditor);
        var (status, type, body) = await AskAsync(http, HttpMethod.Get, "/not-allowed", "text/html");
        Assert.Equal((HttpStatusCode.Forbidden, "text/html"), (status, type));
        Assert.Contains("another role", body, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_fault_of_the_service_is_answered_by_a_page()
    {
        using var http = await _host.SignInAsync(Plant.Auditor);
        await using (var command = _host.Database.CreateCommand("alter schema marten rename to gone")) await command.ExecuteNonQueryAsync();
        await BothAsync(http, HttpMethod.Get, "/units", HttpStatusCode.InternalServerError, "Something went wrong");
    }
}
